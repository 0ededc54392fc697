"""Identity and presence of stations, as the gateway asks for and tells of them."""

from dataclasses import dataclass
from datetime import datetime

from csms.clock import Clock
from csms.errors import InvalidInput, NotFound
from csms.stations import repository
from csms.stations.commands import Command
from csms.stations.credentials import StoredKey
from csms.stations.journal.service import CommandJournal
from csms.stations.model import Registration
from csms.stations.presence import SEEN_EVERY, clean, questions_after_connect
from csms.stations.record import Station, check_identity
from csms.stations.security import repository as security_repository
from csms.stations.security.profile import NEW, Profile, Standing
from csms.store.database import Connection, Database

MOST_WAITING = 100
"""How many stations that nobody knows may wait for a place at once."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Who stands at the door. `key` None: the station has none and is let in without.

    `next_key` was sent to it and is not used yet; `names` may stand in its certificate.
    """

    station_id: str
    registration: Registration
    key: StoredKey | None
    next_key: StoredKey | None = None
    standing: Standing = NEW
    names: tuple[str, ...] = ()


class SocketsService:
    """`accept_unknown`: a station that is not in the database may connect and wait for a place. It may
    in any case while a charger is expected somewhere by its serial number."""

    def __init__(
        self, database: Database, clock: Clock, journal: CommandJournal, *, accept_unknown: bool = False
    ) -> None:
        self._database = database
        self._clock = clock
        self._journal = journal
        self._accept_unknown = accept_unknown
        self._seen: dict[str, datetime] = {}

    async def identify(self, identity: str) -> Caller | None:
        """Who calls by `identity`; None for one that may not connect."""
        try:
            check_identity("identity", identity)
        except InvalidInput:
            return None
        async with self._database.read() as connection:
            station = await repository.find_station(connection, identity)
            if station is not None:
                key = await repository.get_key(connection, identity)
                state = await security_repository.state_of(connection, identity)
                serials = (identity, station.serial, station.expected_serial)
                names = tuple(name for name in serials if name)
                return Caller(identity, station.registration, key, state.next_key, state.standing, names)
            let_in = await self._lets_in(connection)
            waiting = await repository.count_waiting(connection) if let_in else MOST_WAITING
        if waiting >= MOST_WAITING:
            return None
        return Caller(identity, Registration.PENDING, None, names=(identity,))

    async def used_next_key(self, station_id: str, key: StoredKey, now: datetime) -> None:
        """The station came by the key that was sent to it: the one before is no longer right."""

        async def work(connection: Connection) -> None:
            if await security_repository.use_next_key(connection, station_id, key):
                station = await repository.get_station(connection, station_id)
                await repository.tell(connection, "station.key_changed", station, now)

        await self._database.writer.run(work)

    async def connected(
        self, station_id: str, protocol: str, now: datetime, profile: Profile | None = None
    ) -> int:
        """`station_id` has a new socket that speaks `protocol`: the epoch of that socket.

        `profile`: a security profile that it has reached by this for the first time.
        Raises NotFound when the station was deleted since `identify`.
        """

        async def work(connection: Connection) -> int:
            station = await repository.find_station(connection, station_id, lock=True)
            if station is None:
                station = await self._take_in(connection, station_id, now)
            if profile is not None:
                await self._keep_profile(connection, station, profile, now)
            epoch = station.epoch + 1
            await repository.set_presence(
                connection,
                station_id,
                at=now,
                connected=True,
                epoch=epoch,
                protocol=protocol[:16],
                last_seen_at=now,
            )
            await repository.tell(
                connection,
                "station.connected",
                station,
                now,
                protocol=protocol,
                epoch=epoch,
                replaced=station.connected,
            )
            return epoch

        epoch = await self._database.writer.run(work)
        self._seen[station_id] = now
        return epoch

    async def lost(self, station_id: str, epoch: int, now: datetime, reason: str = "") -> bool:
        """The socket of `epoch` has ended. False when a newer one stands, and nothing changed."""

        async def work(connection: Connection) -> bool:
            station = await repository.find_station(connection, station_id, lock=True)
            if station is None or station.epoch != epoch or not station.connected:
                return False
            await repository.set_presence(connection, station_id, at=now, connected=False)
            await repository.tell(connection, "station.lost", station, now, reason=clean(reason))
            return True

        return await self._database.writer.run(work)

    async def all_lost(self, reason: str = "Phaseyard was restarted") -> int:
        """After a restart: no socket stands. Returns how many stations had one."""
        now = self._clock.now()
        async with self._database.write() as connection:
            stations = await repository.connected_stations(connection)
            for station in stations:
                await repository.set_presence(connection, station.id, at=now, connected=False)
                await repository.tell(connection, "station.lost", station, now, reason=reason)
        return len(stations)

    async def seen(self, station_id: str, now: datetime) -> None:
        """A sign of life, of whatever kind. Cheap: written once a minute at most."""
        last = self._seen.get(station_id)
        if last is None or now - last >= SEEN_EVERY:
            self._seen[station_id] = now
            await self._database.writer.add(repository.seen(station_id, now))

    async def questions_after_connect(self, station_id: str) -> tuple[Command, ...]:
        """What to ask the station now that it has booted or come back; often nothing."""
        async with self._database.read() as connection:
            station = await repository.find_station(connection, station_id)
        if station is None:
            return ()
        return questions_after_connect(
            registration=station.registration,
            refuses_trigger=await self._journal.refuses_triggers(station_id),
        )

    async def duplicate(self, station_id: str, addresses: tuple[str, ...], now: datetime) -> None:
        """Two stations seem to use this identity, each from its own address."""

        async def work(connection: Connection) -> None:
            station = await repository.find_station(connection, station_id)
            if station is not None:
                told = list(addresses)
                await repository.tell(connection, "station.duplicate_identity", station, now, addresses=told)

        await self._database.writer.run(work)

    async def _keep_profile(
        self, connection: Connection, station: Station, profile: Profile, now: datetime
    ) -> None:
        state = await security_repository.state_of(connection, station.id)
        reached = state.standing.wanted is not None and profile >= state.standing.wanted
        over = {"wanted": None, "step": "reached", "detail": ""} if reached else {}
        dialect = self._database.dialect
        await security_repository.keep(
            connection, dialect, station.id, in_use=int(profile), changed_at=now, **over
        )
        await repository.tell(connection, "station.security_profile", station, now, profile=int(profile))

    async def _lets_in(self, connection: Connection) -> bool:
        """Whether an unknown station may connect: it tells its serial number, that may be expected, later."""
        return self._accept_unknown or await repository.count_planned(connection) > 0

    async def _take_in(self, connection: Connection, station_id: str, now: datetime) -> Station:
        if not await self._lets_in(connection):
            raise NotFound("station", station_id)
        station = Station(id=station_id, registration=Registration.PENDING, created_at=now)
        await repository.insert_station(connection, station)
        await repository.tell(connection, "station.waiting", station, now)
        return station
