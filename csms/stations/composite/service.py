"""Asks a station for its composite schedule and holds ours against it.

Which profiles a station holds it is asked itself where it can tell (OCPP 2.x); of others we know what they
have accepted from us since we started, so that what they hold from before is not known (`complete`).
"""

import asyncio
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from csms.clock import Clock
from csms.dispatch import Dispatcher
from csms.errors import InvalidInput
from csms.stations import repository
from csms.stations.asking import Commands
from csms.stations.commands import (
    ClearProfiles,
    Command,
    CommandResult,
    CommandStatus,
    GetComposite,
    GetProfiles,
    SetProfile,
)
from csms.stations.composite.combine import Composite, Running, Situation, composite
from csms.stations.composite.compare import Difference, differences
from csms.stations.composite.shelf import Held, clear, install
from csms.stations.encoding import plain
from csms.stations.events import ProfilesReported
from csms.stations.model import CompositeSchedule, ProfilePeriod, RateUnit
from csms.stations.record import Station
from csms.stations.reports import OpenReports
from csms.stations.words.limits import ScheduleUpdate, UpdateSchedule
from csms.store.database import Database

REPORT_WITHIN_S = 30.0
"""So long the parts of a report of profiles may take."""
LONGEST_S = 7 * 86_400
FIRST_VERSION = "1.6"


class Followed(Protocol):
    """Tells of every command that a station answered (`csms.gateway.registry`)."""

    def follow(self, follower: Callable[[str, str, Command, CommandResult], None]) -> None: ...


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What is not the station's own: the transactions that run there by EVSE, and the site's time zone."""

    running: Mapping[int, Running] = field(default_factory=dict)
    zone: str = "UTC"


@dataclass(frozen=True, slots=True)
class Comparison:
    """`complete` False: the station may hold profiles that we do not know of.

    `theirs` None: it told no schedule, i.e. has no limit. `status`: of its answer; where that is a
    refusal there are no differences to tell.
    """

    station_id: str
    evse: int
    at: datetime
    status: CommandStatus
    detail: str
    complete: bool
    ours: Composite
    theirs: CompositeSchedule | None
    differences: tuple[Difference, ...]


class CompositeService:
    """Raises NotFound, InvalidInput, and StationError where a station cannot be asked."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock
        self._shelves: dict[str, tuple[Held, ...]] = {}
        self._reports: OpenReports[Held] = OpenReports()
        self._awaited: dict[tuple[str, int], asyncio.Future[tuple[Held, ...]]] = {}

    def follow(self, commands: Followed, dispatcher: Dispatcher) -> None:
        """From now on know what stations accept and report."""
        commands.follow(self.followed)
        dispatcher.listen(ProfilesReported, self.reported)

    def followed(self, station_id: str, _protocol: str, command: Command, result: CommandResult) -> None:
        """A command was answered: keep in mind what the station holds from now on.

        By the rule of 1.6 for all: later stations tell themselves what they hold, and so this cannot grow.
        """
        shelf = self._shelves.get(station_id, ())
        if not result.accepted:
            return
        if isinstance(command, SetProfile):
            shelf = install(shelf, Held(command.evse, command.profile), later=False)
        elif isinstance(command, ClearProfiles):
            shelf = clear(shelf, command)
        elif isinstance(command, UpdateSchedule):
            shelf = tuple(_updated(each, command, self._clock.now()) for each in shelf)
        else:
            return
        self._shelves[station_id] = shelf

    async def reported(self, station_id: str, event: ProfilesReported, _now: datetime) -> None:
        """A part of a report of profiles came; with the last one it is whole."""
        items = tuple(Held(event.evse, profile) for profile in event.profiles)
        report = self._reports.add(station_id, event.request_id, items, last=event.last)
        waiting = self._awaited.get((station_id, event.request_id))
        if report is not None and waiting is not None and not waiting.done():
            waiting.set_result(report.items)

    async def compare(
        self,
        station_id: str,
        commands: Commands,
        *,
        evse: int,
        duration_s: int,
        unit: RateUnit = RateUnit.AMPERE,
        around: Surroundings | None = None,
        asked_by: str = "",
    ) -> Comparison:
        """Ours and the station's for the next `duration_s` seconds; a difference becomes a fact.

        `evse` 0: the station as a whole, whose way of adding up is its own business.
        """
        around = around or Surroundings()
        if not 1 <= duration_s <= LONGEST_S:
            raise InvalidInput("duration_s", f"must be from 1 to {LONGEST_S} seconds")
        async with self._database.read() as connection:
            station = await repository.get_station(connection, station_id)
            known = await repository.list_evses(connection, (station_id,))
        held, complete = await self._held(station, commands, asked_by)
        asked = GetComposite(evse, duration_s, unit)
        result = await commands.ask(station_id, asked, asked_by=asked_by)
        theirs = result.data if isinstance(result.data, CompositeSchedule) else None
        now = self._clock.now()
        situation = Situation(
            evses=tuple(each.number for each in known if each.number > 0) or (1,),
            running=around.running,
            zone=ZoneInfo(around.zone),
        )
        start = now if theirs is None or theirs.start_at is None else theirs.start_at
        ours = composite(held, situation, evse, start, duration_s, unit)
        found = differences(ours, theirs, most_a=station.max_current_a) if result.accepted else ()
        comparison = Comparison(
            station_id, evse, now, result.status, result.detail, complete, ours, theirs, found
        )
        if found:
            await self._tell(station, comparison)
        return comparison

    async def _held(
        self, station: Station, commands: Commands, asked_by: str
    ) -> tuple[tuple[Held, ...], bool]:
        """What the station holds, and whether that is all of it."""
        ours = self._shelves.get(station.id, ())
        if station.protocol in ("", FIRST_VERSION):
            return ours, False
        request_id = 1 + secrets.randbelow(2**31 - 1)
        waiting = asyncio.get_running_loop().create_future()
        self._awaited[station.id, request_id] = waiting
        try:
            result = await commands.ask(station.id, GetProfiles(request_id), asked_by=asked_by)
            if result.status is CommandStatus.UNKNOWN:
                return (), True
            if not result.accepted:
                return ours, False
            async with asyncio.timeout(REPORT_WITHIN_S):
                return await waiting, True
        except TimeoutError:
            return ours, False
        finally:
            del self._awaited[station.id, request_id]

    async def _tell(self, station: Station, comparison: Comparison) -> None:
        body: dict[str, Any] = {
            "evse": comparison.evse,
            "unit": comparison.ours.unit.value,
            "complete": comparison.complete,
            "looser": any(each.looser for each in comparison.differences),
            "differences": plain(comparison.differences),
        }
        async with self._database.write() as connection:
            await repository.tell(connection, "station.schedule_differs", station, comparison.at, **body)


def _updated(held: Held, command: UpdateSchedule, now: datetime) -> Held:
    """A dynamic profile after an update of its values."""
    if held.profile.id != command.profile_id or not held.profile.periods:
        return held
    period = _after(held.profile.periods[0], command.update)
    return Held(held.evse, replace(held.profile, periods=(period,), updated_at=now))


def _after(period: ProfilePeriod, update: ScheduleUpdate) -> ProfilePeriod:
    told: dict[str, Any] = {
        "limit": update.limit,
        "limit_l2": update.limit_l2,
        "limit_l3": update.limit_l3,
        "discharge_limit": update.discharge_limit,
        "setpoint": update.setpoint,
    }
    return replace(period, **{name: value for name, value in told.items() if value is not None})
