"""A station is asked for its schedule; ours is held against it, and a difference becomes a fact."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from csms.clock import ManualClock
from csms.dispatch import Dispatcher
from csms.errors import InvalidInput, NotFound
from csms.stations.commands import (
    ClearProfiles,
    Command,
    CommandResult,
    CommandStatus,
    GetComposite,
    GetProfiles,
    SetProfile,
)
from csms.stations.composite.combine import Running
from csms.stations.composite.compare import Difference
from csms.stations.composite.service import CompositeService, Surroundings
from csms.stations.events import ProfilesReported
from csms.stations.model import (
    ChargingProfile,
    CompositeSchedule,
    ProfileKind,
    ProfilePeriod,
    ProfilePurpose,
    RateUnit,
)
from csms.stations.sockets.service import SocketsService
from csms.stations.words.limits import ScheduleUpdate, UpdateSchedule
from csms.store.database import Database
from tests.conftest import NOON
from tests.csms.stations.conftest import Facts

OK = CommandResult(CommandStatus.ACCEPTED)


def profile(limit: float, number: int = 1, kind: ProfileKind = ProfileKind.ABSOLUTE) -> ChargingProfile:
    return ChargingProfile(
        id=number,
        stack_level=0,
        purpose=ProfilePurpose.TX_DEFAULT,
        kind=kind,
        periods=(ProfilePeriod(0, limit),),
        start_at=datetime(2020, 1, 1, tzinfo=UTC),
    )


class Bay:
    """A charger that answers what it is told to, and reports profiles after it was asked."""

    def __init__(self) -> None:
        self.tells: float | None = 10.0
        self.reports: tuple[ChargingProfile, ...] | None = None
        self.answer = OK
        self.asked: list[Command] = []
        self.service: CompositeService | None = None

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult:
        self.asked.append(command)
        if isinstance(command, GetProfiles):
            if self.reports is None:
                return CommandResult(CommandStatus.UNKNOWN, "NoProfiles")
            assert self.service is not None
            halves = (self.reports[:1], self.reports[1:])
            for place, part in enumerate(halves):
                event = ProfilesReported(command.request_id, 1, place == 1, part)
                await self.service.reported(station_id, event, NOON)
            return OK
        assert isinstance(command, GetComposite)
        if self.tells is None:
            return self.answer
        period = (ProfilePeriod(0, self.tells),)
        data = CompositeSchedule(NOON, command.duration_s, RateUnit.AMPERE, period)
        return CommandResult(self.answer.status, self.answer.detail, data)


@pytest.fixture
def charger() -> Bay:
    return Bay()


@pytest.fixture
def service(database: Database, clock: ManualClock, charger: Bay) -> CompositeService:
    made = CompositeService(database, clock)
    charger.service = made
    return made


async def test_what_it_accepted_from_us_is_what_it_should_do(
    service: CompositeService, charger: Bay, bay: str, facts: Facts, sockets: SocketsService
) -> None:
    await sockets.connected(bay, "1.6", NOON)
    service.followed(bay, "1.6", SetProfile(1, profile(10)), OK)
    service.followed(bay, "1.6", SetProfile(1, profile(32)), CommandResult(CommandStatus.REJECTED))
    found = await service.compare(bay, charger, evse=1, duration_s=600)
    assert (found.status, found.complete, found.differences) == (CommandStatus.ACCEPTED, False, ())
    assert [step.limit for step in found.ours.steps] == [10.0]
    assert charger.asked == [GetComposite(1, 600)]
    assert await facts("station.schedule") == []


async def test_a_difference_becomes_a_fact(
    service: CompositeService, charger: Bay, bay: str, facts: Facts, sockets: SocketsService
) -> None:
    await sockets.connected(bay, "1.6", NOON)
    service.followed(bay, "1.6", SetProfile(1, profile(6)), OK)
    found = await service.compare(bay, charger, evse=1, duration_s=600)
    assert found.differences == (Difference(0, 600, 6.0, 10.0),)
    (fact,) = await facts("station.schedule")
    assert (fact["topic"], fact["subject"], fact["evse"], fact["looser"]) == (
        "station.schedule_differs",
        bay,
        1,
        True,
    )
    assert fact["differences"] == [{"from_s": 0, "to_s": 600, "ours": 6.0, "theirs": 10.0}]


async def test_clearings_and_updates_are_followed(
    service: CompositeService, charger: Bay, bay: str, clock: ManualClock
) -> None:
    charger.tells = 32.0
    service.followed(bay, "1.6", SetProfile(1, profile(6, 1)), OK)
    service.followed(bay, "1.6", SetProfile(1, profile(8, 2)), OK)  # takes the place of the first
    service.followed(bay, "2.1", SetProfile(0, profile(9, 3, ProfileKind.DYNAMIC)), OK)
    service.followed(bay, "2.1", UpdateSchedule(3, ScheduleUpdate(limit=12)), OK)
    clock.advance(1)
    assert [
        step.limit for step in (await service.compare(bay, charger, evse=1, duration_s=60)).ours.steps
    ] == [8]
    service.followed(bay, "1.6", ClearProfiles(id=2), OK)
    assert [
        step.limit for step in (await service.compare(bay, charger, evse=1, duration_s=60)).ours.steps
    ] == [12]
    service.followed(bay, "1.6", ClearProfiles(), OK)
    free = await service.compare(bay, charger, evse=1, duration_s=60)
    assert [step.limit for step in free.ours.steps] == [None]
    assert free.differences == ()


async def test_a_later_station_tells_its_profiles_itself(
    service: CompositeService, charger: Bay, bay: str, sockets: SocketsService
) -> None:
    await sockets.connected(bay, "2.0.1", NOON)
    service.followed(bay, "2.0.1", SetProfile(1, profile(6)), OK)
    charger.reports = (profile(10, 4),)
    found = await service.compare(bay, charger, evse=1, duration_s=60)
    assert (found.complete, found.differences) == (True, ())
    charger.reports = None
    none_held = await service.compare(bay, charger, evse=1, duration_s=60)
    assert none_held.complete
    assert [step.limit for step in none_held.ours.steps] == [None]


async def test_a_refusal_has_no_differences(
    service: CompositeService, charger: Bay, bay: str, facts: Facts
) -> None:
    charger.tells, charger.answer = None, CommandResult(CommandStatus.REJECTED, "Rejected")
    service.followed(bay, "1.6", SetProfile(1, profile(6)), OK)
    found = await service.compare(bay, charger, evse=1, duration_s=60)
    assert (found.status, found.theirs, found.differences) == (CommandStatus.REJECTED, None, ())
    assert await facts("station.schedule") == []


async def test_a_wrong_question(service: CompositeService, charger: Bay, bay: str) -> None:
    with pytest.raises(InvalidInput, match="duration_s"):
        await service.compare(bay, charger, evse=1, duration_s=0)
    with pytest.raises(NotFound):
        await service.compare("nobody", charger, evse=1, duration_s=60)
    assert charger.asked == []


async def test_a_running_transaction_counts(service: CompositeService, charger: Bay, bay: str) -> None:
    own = ChargingProfile(
        id=7,
        stack_level=0,
        purpose=ProfilePurpose.TX,
        kind=ProfileKind.RELATIVE,
        periods=(ProfilePeriod(0, 6.0), ProfilePeriod(300, 10.0)),
        transaction_id="tx",
    )
    service.followed(bay, "1.6", SetProfile(1, own), OK)
    around = Surroundings({1: Running("tx", NOON - timedelta(minutes=5))}, "Europe/Brussels")
    found = await service.compare(bay, charger, evse=1, duration_s=60, around=around)
    assert [step.limit for step in found.ours.steps] == [10.0]
    idle = await service.compare(bay, charger, evse=1, duration_s=60)
    assert [step.limit for step in idle.ours.steps] == [None]


async def test_it_follows_commands_and_reports(service: CompositeService, charger: Bay, bay: str) -> None:
    followers: list[Callable[[str, str, Command, CommandResult], None]] = []

    class Registry:
        def follow(self, follower: Callable[[str, str, Command, CommandResult], None]) -> None:
            followers.append(follower)

    async def owner(_station_id: str, _event: ProfilesReported, _now: datetime) -> None:
        return None

    dispatcher = Dispatcher()
    dispatcher.handle(ProfilesReported, owner)
    service.follow(Registry(), dispatcher)
    followers[0](bay, "1.6", SetProfile(1, profile(10)), OK)
    await dispatcher.ask(bay, ProfilesReported(1, 1, True, ()), NOON)
    assert (await service.compare(bay, charger, evse=1, duration_s=60)).differences == ()
