"""Stations, as the rest of the program holds them: what people keep of them, and their presence."""

import secrets
from collections.abc import Callable
from dataclasses import replace
from typing import Unpack

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.sites.model import LINES
from csms.sites.service import Proof, SitesService, Unproved
from csms.stations import repository
from csms.stations.credentials import SALT_BYTES, StoredKey, check_key, store_key
from csms.stations.joining_service import join
from csms.stations.model import Registration, VariableValue
from csms.stations.moving_service import refuse_to_move
from csms.stations.record import Evse, Station, StationChanges, check_evse_count, check_station
from csms.store.database import Connection, Database
from csms.store.paging import Page

KEY_BYTES = 20
"""Length of the keys we make: what OCPP-J 1.6 asks for, and as hex text what 2.x takes at most."""


class StationsService:
    """Keeps stations. Raises NotFound, Conflict, InvalidInput.

    `random_bytes` gives salts and keys.
    """

    def __init__(
        self,
        database: Database,
        clock: Clock,
        sites: SitesService,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._random_bytes = random_bytes
        self._proof: Proof = Unproved()

    def prove_by(self, proof: Proof) -> None:
        """From now on nothing makes an active site unsafe: `proof` is asked within every change."""
        self._proof = proof

    async def placed(
        self, connection: Connection, site_id: str
    ) -> tuple[tuple[Station, ...], tuple[Evse, ...]]:
        """The site's stations and their EVSEs (numbers 0 among them), within a transaction."""
        stations = await repository.stations_of(connection, site_id)
        return stations, await repository.list_evses(connection, [station.id for station in stations])

    async def create(
        self,
        *,
        id: str,
        name: str = "",
        site_id: str | None = None,
        circuit_id: str | None = None,
        evses: int = 1,
        wiring: tuple[str, ...] = LINES,
        max_current_a: float = 32.0,
        step_a: float = 1.0,
        fallback_a: float = 0.0,
        can_choose_line: bool = False,
        keeps_profiles: bool = True,
        expected_serial: str = "",
        key: str | None = None,
    ) -> Station:
        """A new station, accepted from its first boot on. `id` is its identity; `evses` how many it has.

        One that waits for its place because it called before is taken up. `key` None: none yet.
        """
        station = check_station(
            Station(
                id=id,
                registration=Registration.ACCEPTED,
                created_at=self._clock.now(),
                name=name,
                site_id=site_id,
                circuit_id=circuit_id,
                wiring=wiring,
                max_current_a=max_current_a,
                step_a=step_a,
                fallback_a=fallback_a,
                can_choose_line=can_choose_line,
                keeps_profiles=keeps_profiles,
                expected_serial=expected_serial,
            )
        )
        check_evse_count("evses", evses)
        stored = None if key is None else self._store(key)
        await self._sites.check_place(site_id, circuit_id)
        async with self._database.write() as connection, self._proof.keeping(connection, site_id):
            await self._check_serial(connection, station)
            waiting = await repository.find_station(connection, id, lock=True)
            if waiting is None:
                await repository.insert_station(connection, station)
            elif waiting.waits:
                await repository.update_station(connection, station)
            else:
                raise Conflict(f"there is a station {id!r} already")
            await repository.confirm_evses(connection, self._database.dialect, id, evses)
            await repository.set_key(connection, id, stored)
            await repository.tell(connection, "station.created", station, self._clock.now())
            return await repository.get_station(connection, id)

    async def get(self, station_id: str) -> Station:
        async with self._database.read() as connection:
            return await repository.get_station(connection, station_id)

    async def list(
        self, site_id: str | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[Station]:
        """Stations of the site; of all sites, and those that wait for one, when `site_id` is None."""
        async with self._database.read() as connection:
            return await repository.list_stations(connection, site_id, after=after, limit=limit)

    async def stations_of(self, site_id: str) -> tuple[Station, ...]:
        """All stations of the site, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.stations_of(connection, site_id)

    async def update(
        self, station_id: str, *, evses: int | None = None, **changes: Unpack[StationChanges]
    ) -> Station:
        """The station after `changes`; `evses` says how many EVSEs it has."""
        if evses is not None:
            check_evse_count("evses", evses)
        async with self._database.read() as connection:
            before = await repository.get_station(connection, station_id)
            planned = check_station(replace(before, **changes))
        await self._sites.check_place(planned.site_id, planned.circuit_id)
        async with self._database.write() as connection, self._proof.keeping(connection, planned.site_id):
            station = await repository.get_station(connection, station_id, lock=True)
            changed = check_station(replace(station, **changes))
            if changed.site_id != planned.site_id:
                raise Conflict(f"station {station_id} was moved meanwhile; look at it and try again")
            await refuse_to_move(connection, station, changed)
            if changed.expected_serial != station.expected_serial:
                await self._check_serial(connection, changed)
            if evses is not None:
                await repository.confirm_evses(connection, self._database.dialect, station_id, evses)
            if changed != station:
                await repository.update_station(connection, changed)
            if changed != station or evses is not None:
                await repository.tell(
                    connection,
                    "station.changed",
                    changed,
                    self._clock.now(),
                    registration=changed.registration.value,
                    registration_before=station.registration.value,
                )
        return changed

    async def place(
        self,
        station_id: str,
        *,
        planned: str | None = None,
        evses: int | None = None,
        **changes: Unpack[StationChanges],
    ) -> Station:
        """Give a station that is not accepted yet its place: that of a `planned` station which never came,
        or what `changes` say."""
        station = await self.get(station_id)
        if station.registration is not Registration.PENDING:
            raise Conflict(f"station {station_id} does not wait for a place; change it instead")
        if planned is None:
            if (changes.get("circuit_id") or station.circuit_id) is None:
                raise InvalidInput("circuit_id", "name the circuit that the station hangs on")
            changes["registration"] = Registration.ACCEPTED
            return await self.update(station_id, evses=evses, **changes)
        async with self._database.write() as connection:
            place = await repository.get_station(connection, planned, lock=True)
            station = await repository.get_station(connection, station_id, lock=True)
            if place.booted_at is not None or place.id == station.id or not station.waits:
                raise Conflict(f"{planned} is no free place for station {station_id}")
            now = self._clock.now()
            joined = await join(connection, self._database.dialect, place, station_id, station, now)
            await repository.tell(
                connection,
                "station.changed",
                joined,
                now,
                registration=joined.registration.value,
                registration_before=station.registration.value,
            )
        return joined

    async def delete(self, station_id: str) -> None:
        """Forget a station that never had a session; Conflict otherwise."""
        async with self._database.write() as connection:
            station = await repository.get_station(connection, station_id, lock=True)
            sessions = await repository.count_sessions(connection, station_id)
            if sessions:
                raise Conflict(
                    f"station {station_id} has {sessions} sessions, which stay; reject its registration"
                )
            await repository.delete_station(connection, station_id)
            await repository.tell(connection, "station.deleted", station, self._clock.now())

    async def set_key(self, station_id: str, key: str | None = None) -> str:
        """Give the station a key, made up when None; returns it, as it is not kept in the clear."""
        key = self._random_bytes(KEY_BYTES).hex() if key is None else key
        stored = self._store(key)
        async with self._database.write() as connection:
            station = await repository.get_station(connection, station_id, lock=True)
            await repository.set_key(connection, station_id, stored)
            await repository.tell(connection, "station.key_set", station, self._clock.now())
        return key

    async def remove_key(self, station_id: str) -> None:
        """Let the station in without a key, as a trusted network may allow."""
        async with self._database.write() as connection:
            station = await repository.get_station(connection, station_id, lock=True)
            await repository.set_key(connection, station_id, None)
            await repository.tell(connection, "station.key_removed", station, self._clock.now())

    async def evses(self, station_id: str) -> tuple[Evse, ...]:
        """The station's EVSEs, in order of their numbers, without its number 0."""
        async with self._database.read() as connection:
            await repository.get_station(connection, station_id)
            found = await repository.list_evses(connection, (station_id,))
        return tuple(evse for evse in found if evse.number > 0)

    async def whole(self, station_id: str) -> Evse | None:
        """The state of the station as a whole (EVSE 0), None when it told none."""
        async with self._database.read() as connection:
            return await repository.find_evse(connection, station_id, 0)

    async def evses_of(self, site_id: str) -> tuple[Evse, ...]:
        """EVSEs of all stations of the site, by station and number, numbers 0 among them."""
        async with self._database.read() as connection:
            stations = await repository.stations_of(connection, site_id)
            return await repository.list_evses(connection, [station.id for station in stations])

    async def list_variables(
        self, station_id: str, *, after: str | None = None, limit: int = 50
    ) -> Page[VariableValue]:
        """What the station told of its variables, by path."""
        async with self._database.read() as connection:
            await repository.get_station(connection, station_id)
            return await repository.list_variables(connection, station_id, after=after, limit=limit)

    async def keep_wiring_check(self, station_id: str, found: dict[str, object]) -> None:
        """What a check of the wiring came to, over what an earlier one did."""
        async with self._database.write() as connection:
            station = await repository.get_station(connection, station_id, lock=True)
            await repository.set_wiring_check(connection, station_id, found)
            await repository.tell(
                connection,
                "station.wiring_checked",
                station,
                self._clock.now(),
                verdict=found.get("verdict"),
                why=found.get("why"),
            )

    async def wiring_check(self, station_id: str) -> dict[str, object] | None:
        """What the last check of the wiring came to, None when there was none."""
        async with self._database.read() as connection:
            await repository.get_station(connection, station_id)
            return await repository.wiring_check(connection, station_id)

    async def _check_serial(self, connection: Connection, station: Station) -> None:
        for other in await repository.awaiting(connection, station.expected_serial):
            if other.id != station.id:
                raise InvalidInput(
                    "expected_serial", f"{station.expected_serial!r} is expected at {other.label} already"
                )

    def _store(self, key: str) -> StoredKey:
        return store_key(check_key("key", key), self._random_bytes(SALT_BYTES))
