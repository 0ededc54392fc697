"""Sharing one supply against figures that were not computed by this project's code.

`power_sharing_cases.json`: hand-computed, the sum is beside each case. The solver's figures: general
unbalanced load flow (pandapower 3.5.6 `runpp_3ph`, OpenDSS) of a short feeder; differences are the
voltage drop on it. The proportions 7.36 kW, 22.08 kW and 12.75 kW are 230 V times the current, as in
any handbook of electrical installation.
"""

import json
from pathlib import Path
from typing import Any, cast

import pytest

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.currents import Network, watts_per_ampere
from csms.power.sharing.demand import Connection, Load
from csms.power.sharing.whatif import what_if

CASES = json.loads((Path(__file__).parent / "power_sharing_cases.json").read_text())["cases"]
L1, L2, L3 = LINES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_hand_computed_case(case: dict[str, Any]) -> None:
    shown = what_if(case["input"])
    offers = cast("dict[str, float]", shown["offers_a"])
    expected = case["expected"]
    if "any five" in case["why"] or case["id"].endswith("-admit"):
        # The sum says how many and how much, not which of the equal cars.
        assert sorted(offers.values()) == pytest.approx(sorted(expected["offers_a"].values()), abs=0.01)
        assert len(cast("list[str]", shown["paused"])) == len(expected["paused"])
    else:
        assert offers == pytest.approx(expected["offers_a"], abs=0.01)
        assert shown["paused"] == expected["paused"]


def test_all_cases_are_there() -> None:
    assert len(CASES) == 30


def network(system: System) -> Network:
    return Network(
        Installation(system=system, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0)),))
    )


def load(lines: tuple[Line, ...], connection: Connection, current_a: float) -> Load:
    return Load("main", lines, connection, current_a)


@pytest.mark.parametrize(
    ("system", "loads", "solver"),
    [
        (
            System.TN_400,
            [
                load((L1,), Connection.LINES, 16),
                load((L2,), Connection.LINES, 10),
                load((L3,), Connection.LINES, 6),
            ],
            (16.016, 10.004, 6.000),
        ),
        (
            System.IT_230,
            [load((L1, L2), Connection.PAIR, 16), load((L2, L3), Connection.PAIR, 16)],
            (16.000, 27.713, 16.000),
        ),
        (
            System.IT_230,
            [
                load((L1, L2), Connection.PAIR, 16),
                load((L2, L3), Connection.PAIR, 10),
                load((L3, L1), Connection.PAIR, 6),
            ],
            (19.698, 22.716, 14.000),
        ),
        (
            System.IT_230,
            [load((L1, L2), Connection.PAIR, 16), load(LINES, Connection.BALANCED, 16)],
            (30.910, 30.910, 16.000),
        ),
    ],
    ids=["star", "two pairs", "three pairs", "pair and balanced"],
)
def test_line_currents_of_a_load_flow(
    system: System, loads: list[Load], solver: tuple[float, float, float]
) -> None:
    net = network(system)
    currents = net.line_currents(net.usage(loads))["main"]
    assert [currents[line] for line in LINES] == pytest.approx(solver, rel=0.005)


@pytest.mark.parametrize(
    ("connection", "lines", "kilowatts"),
    [
        (Connection.LINES, (L1,), 7.36),
        (Connection.LINES, LINES, 22.08),
        (Connection.PAIR, (L1, L2), 7.36),
        (Connection.BALANCED, LINES, 12.75),
    ],
)
def test_power_at_32_amperes(connection: Connection, lines: tuple[Line, ...], kilowatts: float) -> None:
    assert watts_per_ampere(connection, lines) * 32 / 1000 == pytest.approx(kilowatts, abs=0.005)
