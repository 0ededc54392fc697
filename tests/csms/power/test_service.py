"""Power over real records, with stations that answer what they are told to."""

import asyncio
from collections.abc import AsyncIterator
from datetime import timedelta

import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.power.installation import Evse
from csms.power.service import PowerService
from csms.power.steering.evse_of import evse_of
from csms.power.steering.timing import USUAL
from csms.sessions.news import SessionNews
from csms.sessions.session import State
from csms.settings import Settings
from csms.sites.model import System
from csms.stations.commands import Command, CommandResult, CommandStatus, GetComposite, SetProfile
from csms.stations.model import ChargingState, CompositeSchedule, Reading

A = Evse("B1", 1)


class FakeCommands:
    """Takes everything; `composite` is what a station says that it holds."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Command]] = []
        self.composite: CompositeSchedule | None = None
        self.connected: set[str] = {"B1", "B2"}

    @property
    def station_ids(self) -> frozenset[str]:
        return frozenset(self.connected)

    async def ask(self, station_id: str, command: Command, *, routine: bool = False) -> CommandResult:
        self.asked.append((station_id, command))
        data = self.composite if isinstance(command, GetComposite) else None
        return CommandResult(CommandStatus.ACCEPTED, data=data)

    def limits(self, station_id: str) -> list[float]:
        return [
            command.profile.periods[0].limit
            for to, command in self.asked
            if to == station_id and isinstance(command, SetProfile)
        ]


class World:
    def __init__(self, central: Central, clock: ManualClock) -> None:
        self.central, self.clock, self.commands = central, clock, FakeCommands()
        self.power = PowerService(
            central.database,
            clock,
            sites=central.sites,
            stations=central.stations,
            sessions=central.sessions,
            groups=central.groups,
            commands=self.commands,
            delta_margin_percent=8.0,
            timing=USUAL,
            tell=lambda site_id: None,
        )

    async def until(self, what: str, count: int) -> None:
        for _ in range(400):
            if len(self.commands.limits(what)) >= count:
                return
            await asyncio.sleep(0.005)
        raise AssertionError(f"{what} was told {self.commands.limits(what)}")


@pytest.fixture
async def world(database_url: str, clock: ManualClock) -> AsyncIterator[World]:
    """A site of 32 A with two bays; the second station has two EVSEs."""
    central = Central(Settings(database_url=database_url), clock)
    await central.database.open()
    await central.sites.create_site(
        id="yard", name="Yard", time_zone="UTC", currency="EUR", system=System.TN_400
    )
    await central.sites.create_circuit("yard", id="main", name="Supply", fed_from=None, limit_a=(32, 32, 32))
    await central.stations.create(id="B1", site_id="yard", circuit_id="main", fallback_a=6)
    await central.stations.create(id="B2", site_id="yard", circuit_id="main", fallback_a=6, evses=2)
    await central.sites.set_active("yard", True)
    found = World(central, clock)
    yield found
    await found.power.stop()
    await central.power.stop()
    await central.tasks.close()
    await central.database.close()


def news(**more: object) -> SessionNews:
    facts: dict[str, object] = {
        "session_id": 1,
        "station_id": "B1",
        "evse": 1,
        "transaction_id": "t1",
        "state": State.CHARGING,
        "charging": ChargingState.CHARGING,
        "energy_wh": 0,
        "member_id": None,
        **more,
    }
    return SessionNews(**facts)  # type: ignore[arg-type]


async def test_every_evse_of_a_connected_station_is_made_safe_in_silence(world: World) -> None:
    await world.power.start()
    await world.until("B1", 2)
    await world.until("B2", 4)
    assert world.commands.limits("B1") == [6.0, 0.0]
    assert sorted(world.commands.limits("B2")) == [0.0, 0.0, 6.0, 6.0]
    assert world.power.picture("yard") is not None
    assert world.power.picture("nowhere") is None


async def test_a_station_that_hangs_nowhere_is_a_fault_of_the_site(world: World) -> None:
    assert await world.power.faults("yard") == ()
    await world.central.stations.create(id="B9", site_id="yard")
    assert await world.power.faults("yard") == ("B9 hangs on no circuit: say which one feeds it",)


async def test_a_cap_from_outside_is_known_at_once_and_after_a_restart(world: World) -> None:
    await world.power.start()
    until = world.clock.now() + timedelta(hours=1)
    await world.power.caps.ask("main", cap_w=4_200, until=until, reason="grid operator")
    signals = world.power._controllers["yard"][0].state.signals
    assert [(s.cap_w, s.reason) for s in signals["main"]] == [(4_200.0, "grid operator")]
    await world.power.stop()
    await world.power.start()
    assert world.power._controllers["yard"][0].state.signals == signals
    world.clock.advance(3600)
    await world.power.stop()
    await world.power.start()
    assert world.power._controllers["yard"][0].state.signals == {}


async def test_a_session_without_an_evse_is_that_of_the_only_one_or_of_none(world: World) -> None:
    await world.power.start()
    state = world.power._controllers["yard"][0].state
    assert evse_of(state, "B1", None) == A
    assert evse_of(state, "B2", None) is None
    assert evse_of(state, "B2", 2) == Evse("B2", 2)
    world.power.session_news(news(station_id="B2", evse=None))  # told, and nothing else


async def test_readings_of_the_past_do_not_count(world: World) -> None:
    await world.power.start()
    controller = world.power._controllers["yard"][0]
    now = world.clock.now()
    for age_s, live in ((0, True), (59, True), (61, False), (-61, False)):
        reading = Reading(at=now - timedelta(seconds=age_s), current_a=(9.0, 9.0, 9.0))
        assert world.power._is_live(controller, "B1", reading) is live
