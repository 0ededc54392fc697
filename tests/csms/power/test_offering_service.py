"""Offers on their way to stations that answer what they are told to."""

import pytest

from csms.errors import StationOffline
from csms.power.installation import Evse, Wiring
from csms.power.offering_service import Offering
from csms.power.steering.decision import StopSession
from csms.power.steering.profile import Purpose, offer
from csms.power.steering.promises import Outcome
from csms.stations.commands import (
    Command,
    CommandResult,
    CommandStatus,
    GetComposite,
    SetProfile,
    StopCharging,
)
from csms.stations.model import CompositeSchedule, ProfilePeriod, RateUnit

A = Evse("B1", 1)


class FakeCommands:
    """Answers `status`; `composite` is what a station says that it holds."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Command, bool]] = []
        self.status = CommandStatus.ACCEPTED
        self.composite: CompositeSchedule | None = None
        self.offline = False
        self.station_ids: frozenset[str] = frozenset({"B1"})

    async def ask(self, station_id: str, command: Command, *, routine: bool = False) -> CommandResult:
        if self.offline:
            raise StationOffline(station_id)
        self.asked.append((station_id, command, routine))
        return CommandResult(self.status, data=self.composite if isinstance(command, GetComposite) else None)


@pytest.fixture
def commands() -> FakeCommands:
    return FakeCommands()


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (CommandStatus.ACCEPTED, Outcome.ACCEPTED),
        (CommandStatus.REJECTED, Outcome.REFUSED),
        (CommandStatus.UNSUPPORTED, Outcome.REFUSED),
        (CommandStatus.SCHEDULED, Outcome.REFUSED),  # later is not now
    ],
)
async def test_an_offer_is_a_profile_and_routine(
    commands: FakeCommands, status: CommandStatus, outcome: Outcome
) -> None:
    commands.status = status
    sent = offer(1, Wiring(evse=A, circuit="main"), Purpose.LIVE, 16.0, 1000.0, live_valid_s=120.0)
    assert await Offering(commands).set_offer(sent) is outcome
    ((station, command, routine),) = commands.asked
    assert isinstance(command, SetProfile)
    assert (station, command.evse, command.profile.periods[0].limit, routine) == ("B1", 1, 16.0, True)


async def test_what_a_station_says_it_holds_is_read_in_amperes_or_not_at_all(commands: FakeCommands) -> None:
    def says(unit: RateUnit, *limits: float) -> CompositeSchedule:
        periods = tuple(ProfilePeriod(10 * i, limit) for i, limit in enumerate(limits))
        return CompositeSchedule(None, 60, unit, periods)

    offering = Offering(commands)
    assert await offering.read_back(A) is None
    commands.composite = says(RateUnit.AMPERE, 0.0, 6.0)
    assert await offering.read_back(A) == 6.0
    commands.composite = says(RateUnit.WATT, 4140.0)
    assert await offering.read_back(A) is None
    commands.composite = says(RateUnit.AMPERE)
    assert await offering.read_back(A) is None
    commands.status, commands.composite = CommandStatus.REJECTED, says(RateUnit.AMPERE, 6.0)
    assert await offering.read_back(A) is None


async def test_a_stop_is_in_the_journal_and_an_unreachable_station_no_fault_of_ours(
    commands: FakeCommands,
) -> None:
    await Offering(commands).stop_session(StopSession(A, "t1"))
    assert commands.asked == [("B1", StopCharging("t1"), False)]
    commands.offline = True
    await Offering(commands).stop_session(StopSession(A, "t1"))
