import math
from collections.abc import Callable
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring

L1, L2, L3 = LINES


def circuit(id: str, fed_from: str | None, amperes: float = 63.0, **more: Any) -> Circuit:
    return Circuit(id=id, fed_from=fed_from, **{"limit_a": dict.fromkeys(LINES, amperes), **more})


def site(
    *circuits: Circuit, wirings: tuple[Wiring, ...] = (), system: System = System.TN_400
) -> Installation:
    return Installation(system=system, circuits=circuits, wirings=wirings)


def wired(**more: Any) -> Wiring:
    return Wiring(**{"evse": Evse("bay-1", 1), "circuit": "main", **more})


MAIN = circuit("main", None)

FAULTS: list[tuple[str, str, Callable[[], Installation]]] = [
    ("circuits", "at least one", lambda: site()),
    ("circuits[1].id", "twice", lambda: site(MAIN, circuit("main", "main"))),
    ("circuits[0].id", "empty", lambda: site(circuit("", None))),
    ("circuits[1].fed_from", "no circuit 'b9'", lambda: site(MAIN, circuit("b1", "b9"))),
    ("circuits[1].fed_from", "is 'main' already", lambda: site(MAIN, circuit("b1", None))),
    (
        "circuits[1].fed_from",
        "b1 -> b2 -> b1",
        lambda: site(MAIN, circuit("b1", "b2"), circuit("b2", "b1")),
    ),
    ("circuits[0].fed_from", "main -> main", lambda: site(circuit("main", "main"))),
    ("circuits[0].limit_a.L1", "at least 0, not -1", lambda: site(circuit("main", None, -1.0))),
    ("circuits[0].limit_a.L1", "finite", lambda: site(circuit("main", None, math.nan))),
    ("circuits[0].limit_a.L1", "finite", lambda: site(circuit("main", None, math.inf))),
    ("circuits[0].limit_a", "at least one line", lambda: site(circuit("main", None, limit_a={}))),
    ("circuits[0].limit_a.L1", "device's 50 A", lambda: site(circuit("main", None, device_a=50.0))),
    ("circuits[0].cap_w", "at least 0", lambda: site(circuit("main", None, cap_w=-5.0))),
    ("circuits[0].base_a.L2", "at least 0", lambda: site(circuit("main", None, base_a={L2: -5.0}))),
    (
        "circuits[0].base_a.L2",
        "has no L2",
        lambda: site(circuit("main", None, limit_a={L1: 20.0}, base_a={L2: 5.0})),
    ),
    (
        "circuits[1].limit_a.L2",
        "has no L2",
        lambda: site(circuit("main", None, limit_a={L1: 20.0}), circuit("b1", "main")),
    ),
    ("circuits[0].unbalance_a", "at least 0", lambda: site(circuit("main", None, unbalance_a=-20.0))),
    (
        "circuits[0].unbalance_a",
        "neutral, not in IT-230",
        lambda: site(circuit("main", None, unbalance_a=20.0), system=System.IT_230),
    ),
    ("stations[0].circuit", "no circuit 'b1'", lambda: site(MAIN, wirings=(wired(circuit="b1"),))),
    ("stations[1].evse", "twice", lambda: site(MAIN, wirings=(wired(), wired()))),
    ("stations[0].rotation[1]", "L1 is there twice", lambda: site(MAIN, wirings=(wired(rotation=(L1, L1)),))),
    ("stations[0].rotation", "1 to 3", lambda: site(MAIN, wirings=(wired(rotation=()),))),
    (
        "stations[0].rotation",
        "2 to 3",
        lambda: site(MAIN, wirings=(wired(rotation=(L1,)),), system=System.IT_230),
    ),
    (
        "stations[0].rotation[0]",
        "has no L2",
        lambda: site(circuit("main", None, limit_a={L1: 20.0}), wirings=(wired(rotation=(L2,)),)),
    ),
    ("stations[0].max_current_a", "at least 6", lambda: site(MAIN, wirings=(wired(max_current_a=5.0),))),
    ("stations[0].step_a", "1 or 0.1", lambda: site(MAIN, wirings=(wired(step_a=0.5),))),
    ("stations[0].fallback_a", "0 or at least 6", lambda: site(MAIN, wirings=(wired(fallback_a=4.0),))),
    ("stations[0].fallback_a", "above the station's", lambda: site(MAIN, wirings=(wired(fallback_a=40.0),))),
]


@pytest.mark.parametrize(("field", "problem", "make"), FAULTS, ids=[f"{f[0]} {f[1]}" for f in FAULTS])
def test_a_fault_is_refused_with_its_place(
    field: str, problem: str, make: Callable[[], Installation]
) -> None:
    with pytest.raises(InvalidInput) as refused:
        make()
    assert refused.value.field == field
    assert problem in refused.value.problem


def test_a_limit_on_unbalance_needs_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    assert site(circuit("main", None, unbalance_a=20.0)).circuits[0].unbalance_a == 20.0
    monkeypatch.setattr("csms.power.installation.find_spec", lambda name: None)
    with pytest.raises(InvalidInput, match=r"install phaseyard\[optimise\]"):
        site(circuit("main", None, unbalance_a=20.0))


def test_a_tree_may_list_a_board_before_what_feeds_it() -> None:
    found = site(circuit("b1", "main", 20.0), MAIN)
    assert found.circuit("b1").fed_from == "main"


def test_rotation_maps_the_stations_lines_to_the_supplys() -> None:
    wiring = wired(rotation=(L2, L3, L1))
    assert wiring.supply_lines() == (L2, L3, L1)
    assert wiring.supply_lines((True, False, False)) == (Line.L2,)
    assert wiring.supply_lines((False, True, True)) == (Line.L3, Line.L1)


def test_things_are_found_by_id() -> None:
    found = site(MAIN, wirings=(wired(),))
    assert found.wiring(Evse("bay-1", 1)).circuit == "main"
    with pytest.raises(KeyError):
        found.wiring(Evse("bay-2", 1))
    with pytest.raises(KeyError):
        found.circuit("b1")
    assert str(Evse("bay-1", 1)) == "bay-1/1"
