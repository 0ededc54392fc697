"""Owners of what stations tell about themselves. Each returns when its change is committed."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from csms.dispatch import Dispatcher
from csms.stations import repository
from csms.stations.encoding import plain
from csms.stations.events import (
    ComponentsReported,
    Heartbeat,
    ProfilesReported,
    StatusReported,
    VariablesReported,
)
from csms.stations.joining_service import join
from csms.stations.model import Registration, VariableValue
from csms.stations.presence import (
    LOOP_S,
    MOST_DOUBLINGS,
    NORMAL_BOOTS,
    StatusOutcome,
    boot_interval,
    clean_boot,
    clean_variables,
    decide_status,
    is_another,
    is_possible,
    place_of,
    registration_at_boot,
    told_at,
)
from csms.stations.questions import Boot, BootAnswer, VendorAnswer, VendorMessage, VendorStatus
from csms.stations.record import Station
from csms.stations.reports import OpenReports
from csms.stations.sockets.service import SocketsService
from csms.store.database import Connection, Database

MOST_BOOTS = NORMAL_BOOTS + MOST_DOUBLINGS
MOST_ALERTS = 50
"""So many alarms of one message become facts; a station that has more has one trouble."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BootSettings:
    """`heartbeat_s` is asked of accepted stations; `accept_unknown` lets others wait for a place."""

    heartbeat_s: int
    accept_unknown: bool = False


class StationsHandlers:
    """`draw` gives a random number from 0 up to 1."""

    def __init__(
        self, database: Database, sockets: SocketsService, settings: BootSettings, draw: Callable[[], float]
    ) -> None:
        self._database = database
        self._sockets = sockets
        self._settings = settings
        self._draw = draw
        self._boots: dict[str, list[float]] = {}
        self._variables: OpenReports[VariableValue] = OpenReports()
        self._profiles: OpenReports[dict[str, Any]] = OpenReports()

    async def boot(self, station_id: str, boot: Boot, now: datetime) -> BootAnswer:
        """Keep what the station says it is, and tell it whether it may take part.

        One that has no place joins the one where its serial number is expected. Sessions
        under way stay: a boot does not end them.
        """
        told = clean_boot(boot)

        async def work(connection: Connection) -> Registration:
            station = await repository.find_station(connection, station_id, lock=True)
            registration = registration_at_boot(
                station.registration if station else None, accept_unknown=self._settings.accept_unknown
            )
            if (station is None or station.waits) and (place := await self._place(connection, told.serial)):
                dialect = self._database.dialect
                station = await join(connection, dialect, place, station_id, station, now)
                registration = station.registration
            elif station is not None and is_another(station, told.serial):
                station = replace(station, registration=Registration.PENDING)
                registration = station.registration
                await repository.update_station(connection, station)
                expected = station.expected_serial
                await repository.tell(
                    connection, "station.wrong_serial", station, now, serial=told.serial, expected=expected
                )
            if station is None:
                if registration is Registration.REJECTED:
                    return registration
                station = Station(id=station_id, registration=registration, created_at=now)
                await repository.insert_station(connection, station)
            texts = {
                "vendor": told.vendor,
                "model": told.model,
                "serial": told.serial,
                "firmware": told.firmware,
            }
            await repository.set_boot(connection, station_id, booted_at=now, last_seen_at=now, **texts)
            await repository.tell(
                connection,
                "station.booted",
                station,
                now,
                registration=registration.value,
                reason=told.reason,
                firmware_before=station.firmware,
                **texts,
            )
            return registration

        registration = await self._database.writer.run(work)
        recent = self._count_boot(station_id, now)
        interval_s = boot_interval(
            registration, heartbeat_s=self._settings.heartbeat_s, draw=self._draw(), recent=recent
        )
        return BootAnswer(registration, interval_s, now)

    def _count_boot(self, station_id: str, now: datetime) -> int:
        """How many boots of the station there were lately, with this one."""
        since = now.timestamp() - LOOP_S
        boots = [at for at in self._boots.get(station_id, ()) if at > since][-MOST_BOOTS:]
        self._boots[station_id] = [*boots, now.timestamp()]
        return len(self._boots[station_id])

    async def _place(self, connection: Connection, serial: str) -> Station | None:
        return place_of(serial, await repository.awaiting(connection, serial))

    async def heartbeat(self, station_id: str, _event: Heartbeat, now: datetime) -> None:
        await self._sockets.seen(station_id, now)

    async def status(self, station_id: str, event: StatusReported, now: datetime) -> None:
        async def work(connection: Connection) -> None:
            station = await repository.find_station(connection, station_id)
            if station is not None:
                await self._keep_status(connection, station, event, now)

        await self._database.writer.run(work)

    async def components(self, station_id: str, event: ComponentsReported, now: datetime) -> None:
        """Keep statuses and values; each alarm of the station becomes a fact `station.alert`."""
        values = clean_variables(event.changes)

        async def work(connection: Connection) -> None:
            station = await repository.find_station(connection, station_id)
            if station is None:
                return
            for status in event.statuses:
                await self._keep_status(connection, station, replace(status, at=status.at or event.at), now)
            await repository.put_variables(connection, self._database.dialect, station_id, values, now)
            for alert in event.alerts[:MOST_ALERTS]:
                told = plain(replace(alert, at=told_at(alert.at or event.at, now)))
                told["told_at"] = told.pop("at")
                await repository.tell(connection, "station.alert", station, now, **told)

        await self._database.writer.run(work)

    async def variables(self, station_id: str, event: VariablesReported, now: datetime) -> None:
        """Keep each part as it comes; with the last one tell what the report came to."""
        values = clean_variables(event.values)
        report = self._variables.add(
            station_id, event.request_id, values, last=event.last, sequence=event.sequence
        )

        async def work(connection: Connection) -> None:
            station = await repository.find_station(connection, station_id)
            if station is None:
                return
            await repository.put_variables(connection, self._database.dialect, station_id, values, now)
            if report is not None:
                await repository.tell(
                    connection,
                    "station.variables",
                    station,
                    now,
                    request_id=event.request_id,
                    count=len(report.items),
                    missing_parts=list(report.missing),
                )

        await self._database.writer.run(work)

    async def profiles(self, station_id: str, event: ProfilesReported, now: datetime) -> None:
        """Put the parts together; with the last one tell which profiles the station holds."""
        part = tuple({"evse": event.evse, **plain(profile)} for profile in event.profiles)
        report = self._profiles.add(station_id, event.request_id, part, last=event.last)
        if report is None:
            return

        async def work(connection: Connection) -> None:
            station = await repository.find_station(connection, station_id)
            if station is not None:
                await repository.tell(
                    connection,
                    "station.profiles",
                    station,
                    now,
                    request_id=event.request_id,
                    profiles=list(report.items),
                )

        await self._database.writer.run(work)

    async def vendor_message(
        self, _station_id: str, _question: VendorMessage, _now: datetime
    ) -> VendorAnswer:
        """No maker's own messages are understood."""
        return VendorAnswer(VendorStatus.UNKNOWN_VENDOR)

    async def _keep_status(
        self, connection: Connection, station: Station, event: StatusReported, now: datetime
    ) -> None:
        if not is_possible(event):
            return
        kept = await repository.find_evse(connection, station.id, event.evse)
        decision = decide_status(kept, station.id, event, now)
        if decision.outcome not in (StatusOutcome.CHANGED, StatusOutcome.REFRESHED):
            return
        evse = decision.evse
        await repository.put_evse(connection, self._database.dialect, evse)
        if decision.outcome is StatusOutcome.CHANGED:
            await repository.tell(
                connection,
                "station.status",
                station,
                now,
                evse=evse.number,
                connector=evse.connector,
                status=evse.status.value,
                before=kept.status.value if kept and kept.status_at else None,
                error=evse.error,
                info=evse.info,
                confirmed=evse.confirmed,
            )


def register(dispatcher: Dispatcher, handlers: StationsHandlers) -> None:
    """Make `handlers` the owners of what stations tell about themselves."""
    dispatcher.handle(Boot, handlers.boot)
    dispatcher.handle(Heartbeat, handlers.heartbeat)
    dispatcher.handle(StatusReported, handlers.status)
    dispatcher.handle(ComponentsReported, handlers.components)
    dispatcher.handle(VariablesReported, handlers.variables)
    dispatcher.handle(ProfilesReported, handlers.profiles)
    dispatcher.handle(VendorMessage, handlers.vendor_message)
