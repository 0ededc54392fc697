"""What is set in chargers, with chargers that answer what they are told to."""

import asyncio
from collections.abc import Callable
from typing import Any

import pytest

from csms.errors import StationSilent
from csms.power.installation import Evse
from csms.power.setup_service import SetUp, StationSetUp, Wanted, wanted
from csms.power.steering.base_load import BuildingMeter, Counts
from csms.stations.commands import Command, CommandResult, CommandStatus, GetVariables, SetVariables
from csms.stations.model import VariableValue
from csms.tasks import Tasks

OLD, NEW = "1.6", "2.0.1"
INTERVAL = {OLD: "/MeterValueSampleInterval", NEW: "SampledDataCtrlr/TxUpdatedInterval"}
SAMPLED = {OLD: "/MeterValuesSampledData", NEW: "SampledDataCtrlr/TxUpdatedMeasurands"}
CHOICE = "SmartChargingCtrlr/ACPhaseSwitchingSupported"
ENERGY = "Energy.Active.Import.Register"


def test_what_is_wanted_goes_by_where_a_charger_stands(yard: Callable[..., Any]) -> None:
    total = BuildingMeter(counts=Counts.TOTAL)
    site = yard(bays=2, meter=total, odd={1: {"evse": Evse("bay-0", 2), "can_choose_line": True}})
    assert wanted(site.state, "bay-0", NEW) == Wanted(NEW, samples=True, choice=(2,))
    base = yard(bays=1, meter=BuildingMeter())
    assert wanted(base.state, "bay-0", OLD) == Wanted(OLD)
    assert wanted(base.state, "elsewhere", OLD) == Wanted(OLD)


class Charger:
    """Keeps variables; `takes`: what it answers to a change, and whether it does it."""

    def __init__(self, **variables: str) -> None:
        self.variables = dict(variables)
        self.asked: list[Command] = []
        self.takes = (CommandStatus.ACCEPTED, "", True)
        self.silent = False
        self.station_ids = frozenset({"B1"})

    async def ask(self, station_id: str, command: Command, *, routine: bool = False) -> CommandResult:
        self.asked.append(command)
        if self.silent:
            raise StationSilent(station_id)
        if isinstance(command, GetVariables):
            assert routine
            values = tuple(VariableValue(path, self.variables.get(path)) for path in command.paths)
            return CommandResult(CommandStatus.ACCEPTED, data=values)
        assert isinstance(command, SetVariables)
        assert not routine, "a change is in the journal"
        status, detail, does = self.takes
        if does:
            self.variables |= {value.path: value.value or "" for value in command.values}
        return CommandResult(status, detail)

    def changes(self) -> list[tuple[str, str | None]]:
        return [(v.path, v.value) for c in self.asked if isinstance(c, SetVariables) for v in c.values]


class World:
    def __init__(self, charger: Charger) -> None:
        self.charger, self.tasks = charger, Tasks()
        self.heard: list[tuple[str, int, bool]] = []
        self.set_up = StationSetUp(charger, self.tasks, lambda *what: self.heard.append(what))

    async def see_to(
        self, protocol: str = OLD, *, samples: bool = True, choice: tuple[int, ...] = ()
    ) -> SetUp | None:
        self.set_up.see_to("B1", Wanted(protocol, samples, choice))
        for _ in range(400):
            if len(self.tasks):
                await asyncio.sleep(0)
        assert not len(self.tasks)
        return self.set_up.of("B1")


@pytest.mark.parametrize("protocol", [OLD, NEW])
async def test_a_charger_that_tells_too_seldom_is_told_to_tell_every_ten_seconds(protocol: str) -> None:
    charger = Charger(**{INTERVAL[protocol]: "60", SAMPLED[protocol]: ENERGY})
    world = World(charger)
    assert await world.see_to(protocol) == SetUp(10)
    assert charger.changes() == [(INTERVAL[protocol], "10"), (SAMPLED[protocol], f"{ENERGY},Current.Import")]
    assert isinstance(charger.asked[-1], GetVariables), "it is read back"
    count = len(charger.asked)
    await world.see_to(protocol)
    assert len(charger.asked) == count, "once is enough"
    world.set_up.forget("B1")  # it has started anew
    await world.see_to(protocol)
    assert len(charger.changes()) == 2, "what is right is not written again"
    assert len(charger.asked) == count + 1


async def test_what_is_often_enough_stays() -> None:
    charger = Charger(**{INTERVAL[OLD]: "5", SAMPLED[OLD]: f"Current.Import, {ENERGY}"})
    assert await World(charger).see_to() == SetUp(5)
    assert charger.changes() == []


@pytest.mark.parametrize(
    ("takes", "problem"),
    [
        (
            (CommandStatus.REJECTED, "Rejected", False),
            "MeterValueSampleInterval: 10 was not taken (Rejected)",
        ),
        ((CommandStatus.UNKNOWN, "", False), "MeterValueSampleInterval: 10 was not taken"),
        (
            (CommandStatus.REBOOT_REQUIRED, "", True),
            "MeterValueSampleInterval: 10 counts from its next start",
        ),
        ((CommandStatus.ACCEPTED, "", False), "tells currents every 60 s"),  # it only said so
    ],
)
async def test_what_is_not_taken_is_shown(takes: tuple[CommandStatus, str, bool], problem: str) -> None:
    charger = Charger(**{INTERVAL[OLD]: "60"})
    charger.takes = takes
    found = await World(charger).see_to()
    assert found is not None
    assert found.problem == problem


async def test_a_charger_that_says_nothing_of_it_is_shown() -> None:
    charger = Charger()
    charger.takes = (CommandStatus.ACCEPTED, "", False)
    assert await World(charger).see_to() == SetUp(None, "does not say how often")


async def test_a_silent_charger_is_asked_again_the_next_time() -> None:
    charger = Charger(**{INTERVAL[OLD]: "60"})
    charger.silent = True
    world = World(charger)
    assert await world.see_to() is None
    charger.silent = False
    assert await world.see_to() == SetUp(10)


async def test_nothing_is_asked_where_nothing_is_wanted() -> None:
    charger = Charger()
    assert await World(charger).see_to(samples=False) is None
    assert charger.asked == []


@pytest.mark.parametrize(
    ("says", "able"),
    [
        ({CHOICE: "true"}, True),
        ({CHOICE.replace("/", "@2/"): "True"}, True),
        ({CHOICE: "false"}, False),
        ({}, False),
    ],
)
async def test_a_charger_is_asked_whether_it_can_choose_the_line(says: dict[str, str], able: bool) -> None:
    world = World(Charger(**says))
    await world.see_to(NEW, samples=False, choice=(2,))
    assert world.heard == [("B1", 2, able)]
    older = World(Charger())
    await older.see_to(OLD, samples=False, choice=(1,))
    assert (older.heard, older.charger.asked) == ([("B1", 1, False)], [])
