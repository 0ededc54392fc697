import copy
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.power.sharing.whatif import what_if

SOUND: dict[str, Any] = {
    "system": "TN-400",
    "circuits": [
        {"id": "main", "fed_from": None, "limit_a": 32, "base_a": {"L2": 2}},
        {"id": "shed", "fed_from": "main", "limit_a": {"L1": 15, "L2": 16}},
    ],
    "demands": [
        {"id": "van", "circuit": "main", "lines": ["L1", "L2", "L3"]},
        {"id": "guest", "circuit": "shed", "lines": ["L1"], "max_a": 32},
        {"id": "late", "circuit": "shed", "lines": ["L1"], "min_a": 14, "waiting_s": 0},
    ],
}


def test_what_is_printed() -> None:
    assert what_if(SOUND) == {
        "offers_a": {"van": 17.0, "guest": 15.0},
        "paused": ["late"],
        "bound_by": {
            "van": {"kind": "circuit_line", "circuit": "main", "line": "L1"},
            "guest": {"kind": "circuit_line", "circuit": "shed", "line": "L1"},
            "late": {"kind": "waiting", "circuit": "shed", "line": "L1"},
        },
        "circuits": [
            {
                "id": "main",
                "line_a": {"L1": 32.0, "L2": 19.0, "L3": 17.0},
                "limit_a": {"L1": 32.0, "L2": 32.0, "L3": 32.0},
            },
            {"id": "shed", "line_a": {"L1": 15.0, "L2": 0.0}, "limit_a": {"L1": 15.0, "L2": 16.0}},
        ],
    }


@pytest.mark.parametrize("step", [1, 1.0, Decimal(1)])
def test_a_step_rounds_as_a_station_would(step: Decimal | float) -> None:
    document = {
        "system": "TN-400",
        "circuits": [{"id": "main", "fed_from": None, "limit_a": 32}],
        "demands": [{"id": f"c{i}", "circuit": "main", "lines": ["L1"]} for i in range(3)],
    }
    assert what_if(document, step)["offers_a"] == {"c0": 11.0, "c1": 11.0, "c2": 10.0}
    exact = what_if(document)["offers_a"]
    # Cut, not rounded up: three times the printed offer still fits.
    assert exact == dict.fromkeys(["c0", "c1", "c2"], 10.666666)


def change(*path: str | int, to: object) -> Callable[[], object]:
    def changed() -> object:
        document = copy.deepcopy(SOUND)
        at: Any = document
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = to
        return document

    return changed


def delta(**more: object) -> Callable[[], dict[str, object]]:
    def changed() -> dict[str, object]:
        return {
            "system": "IT-230",
            "circuits": [{"id": "main", "fed_from": None, "limit_a": 32}],
            "demands": [{"id": "van", "circuit": "main", "lines": ["L1", "L2"], **more}],
        }

    return changed


FAULTS: list[tuple[str, str, Callable[[], object]]] = [
    ("document", "object", lambda: [1, 2]),
    ("sytem", "not known", change("sytem", to="TN-400")),
    ("system", "TN-400, TT-400", change("system", to="TN")),
    ("circuits", "list", change("circuits", to={})),
    ("circuits[0]", "object", change("circuits", 0, to="main")),
    ("circuits[0].limits", "not known", change("circuits", 0, "limits", to=3)),
    ("circuits[0].id", "text", change("circuits", 0, "id", to=7)),
    ("circuits[1].fed_from", "no circuit", change("circuits", 1, "fed_from", to="nowhere")),
    ("circuits[1].fed_from", "loop", change("circuits", 1, "fed_from", to="shed")),
    ("circuits[1].fed_from", "null", change("circuits", 1, "fed_from", to=5)),
    ("circuits", "supply", change("circuits", to=[])),
    ("circuits[0].limit_a", "negative", change("circuits", 0, "limit_a", to=-1)),
    ("circuits[0].limit_a", "finite", change("circuits", 0, "limit_a", to=math.nan)),
    ("circuits[0].limit_a", "number", change("circuits", 0, "limit_a", to="32")),
    ("circuits[0].limit_a", "number", change("circuits", 0, "limit_a", to=True)),
    ("circuits[0].limit_a.L1", "negative", change("circuits", 0, "limit_a", to={"L1": -3})),
    ("circuits[0].limit_a.L4", "no line", change("circuits", 0, "limit_a", to={"L1": 3, "L4": 3})),
    ("circuits[1].base_a.L3", "no L3", change("circuits", 1, "base_a", to={"L3": 1})),
    ("circuits[0].cap_w", "number", change("circuits", 0, "cap_w", to=None)),
    ("unbalance_a", "negative", change("unbalance_a", to=-20)),
    ("circuits[1].unbalance_a", "finite", change("circuits", 1, "unbalance_a", to=math.nan)),
    ("circuits[0].unbalance_a", "neutral", lambda: {**delta()(), "unbalance_a": 20}),
    ("strategy", "one of weighted, equal", change("strategy", to="loudest")),
    ("fairness", "amperes, kilowatts", change("fairness", to="euros")),
    ("demands[0].can_choose_line", "on one line", change("demands", 0, "can_choose_line", to=True)),
    ("demands[1].can_choose_line", "true or false", change("demands", 1, "can_choose_line", to="yes")),
    ("demands", "list", change("demands", to=None)),
    ("demands[0].id", "text", change("demands", 0, "id", to="")),
    ("demands[1].id", "twice", change("demands", 1, "id", to="van")),
    ("demands[1].circuit", "no circuit 'attic'", change("demands", 1, "circuit", to="attic")),
    ("demands[1].lines", "list", change("demands", 1, "lines", to=[])),
    ("demands[1].lines[0]", "L1, L2 or L3", change("demands", 1, "lines", to=["N"])),
    ("demands[1].lines[0]", "L1, L2 or L3", change("demands", 1, "lines", to=[["L1"]])),
    ("demands[1].lines[1]", "twice", change("demands", 1, "lines", to=["L1", "L1"])),
    ("demands[1].lines[0]", "'shed' has no L3", change("demands", 1, "lines", to=["L3"])),
    ("demands[1].connection", "without neutral", change("demands", 1, "connection", to="pair")),
    ("demands[1].max_a", "below min_a", change("demands", 1, "max_a", to=5)),
    ("demands[1].min_a", "negative", change("demands", 1, "min_a", to=-6)),
    ("demands[1].weight", "above 0", change("demands", 1, "weight", to=0)),
    ("demands[1].priority", "whole number", change("demands", 1, "priority", to=1.5)),
    ("demands[1].waiting_s", "finite", change("demands", 1, "waiting_s", to=math.inf)),
    ("demands[0].lines", "two or three", delta(lines=["L1"])),
    ("demands[0].connection", "must be pair", delta(connection="lines")),
    ("demands[0].connection", "does not go with 2", delta(connection="balanced")),
    ("demands[0].connection", "one of", delta(connection="delta")),
]


@pytest.mark.parametrize(("field", "problem", "document"), FAULTS, ids=[f"{f[0]} {f[1]}" for f in FAULTS])
def test_a_fault_names_its_field(field: str, problem: str, document: Callable[[], object]) -> None:
    with pytest.raises(InvalidInput) as refused:
        what_if(document())
    assert refused.value.field == field
    assert problem in refused.value.problem
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("step", [-1, math.nan, math.inf])
def test_a_wrong_step(step: float) -> None:
    with pytest.raises(InvalidInput, match="step_a"):
        what_if(SOUND, step)


def test_an_open_delta_is_shared_by_its_common_line() -> None:
    # sqrt(3) x = 32 on the common line: 18.475 A.
    shown = what_if(delta(lines=["L1", "L2", "L3"], connection="open_delta")())
    assert shown["offers_a"] == pytest.approx({"van": 18.4752}, abs=0.001)
    assert shown["bound_by"] == {"van": {"kind": "circuit_line", "circuit": "main", "line": "L3"}}


def garage(*lines: str, **more: object) -> dict[str, object]:
    cars = [{"id": f"c{i}", "circuit": "main", "lines": [line]} for i, line in enumerate(lines)]
    return {
        "system": "TN-400",
        "circuits": [{"id": "main", "fed_from": None, "limit_a": 63}],
        "demands": cars,
        **more,
    }


def test_the_lines_may_differ_by_no_more_than_is_allowed() -> None:
    """20 A is 4.6 kVA at 230 V, the difference that VDE-AR-N 4100 allows (its figure from memory)."""
    found = what_if(garage("L1", "L1", "L2", unbalance_a=20))
    assert found["offers_a"] == {"c0": 10.0, "c1": 10.0, "c2": 20.0}
    assert found["bound_by"] == {
        "c0": {"kind": "unbalance", "circuit": "main", "line": "L1"},
        "c1": {"kind": "unbalance", "circuit": "main", "line": "L1"},
        "c2": {"kind": "unbalance", "circuit": "main", "line": "L2"},
    }
    both = garage("L1", unbalance_a=20)
    both["circuits"] = [{"id": "main", "fed_from": None, "limit_a": 63, "unbalance_a": 20}]
    with pytest.raises(InvalidInput, match="leave one out"):
        what_if(both)


def test_three_cars_that_may_choose_get_a_line_each() -> None:
    document = garage("L1", "L1", "L1")
    document["circuits"] = [{"id": "main", "fed_from": None, "limit_a": 32}]
    alone = what_if(document)
    assert alone["offers_a"] == pytest.approx(dict.fromkeys(["c0", "c1", "c2"], 32 / 3), abs=0.01)
    assert "lines" not in alone
    document["demands"] = [{**car, "can_choose_line": True} for car in document["demands"]]  # type: ignore[attr-defined]
    found = what_if(document)
    assert found["offers_a"] == {"c0": 32.0, "c1": 32.0, "c2": 32.0}
    assert sorted(found["lines"].values()) == ["L1", "L2", "L3"]  # type: ignore[attr-defined]


def test_a_strategy_and_what_is_even_can_be_named() -> None:
    cars = [
        {"id": "three", "circuit": "main", "lines": ["L1", "L2", "L3"], "connected_s": 60, "plan_a": 7},
        {"id": "one", "circuit": "main", "lines": ["L1"], "connected_s": 30, "weight": 3},
    ]
    document = {
        "system": "TN-400",
        "circuits": [{"id": "main", "fed_from": None, "limit_a": 32}],
        "demands": cars,
    }
    assert what_if(document)["offers_a"] == {"three": 8.0, "one": 24.0}
    assert what_if({**document, "strategy": "equal"})["offers_a"] == {"three": 16.0, "one": 16.0}
    assert what_if({**document, "strategy": "first_come"})["offers_a"] == {"three": 26.0, "one": 6.0}
    assert what_if({**document, "strategy": "planned"})["offers_a"] == {"three": 7.0, "one": 25.0}
    # 8 A on three lines and 24 A on one are 5.52 kW each.
    even = {**document, "strategy": "equal", "fairness": "kilowatts"}
    assert what_if(even)["offers_a"] == {"three": 8.0, "one": 24.0}
