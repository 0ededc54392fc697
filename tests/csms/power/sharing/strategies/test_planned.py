from typing import Any

import pytest

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Bound, BoundKind, Demand
from csms.power.sharing.strategies.planned import PLANNED

SITE = Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 30.0)),))


def car(id: str, plan_a: float | None, **more: Any) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": LINES, "plan_a": plan_a, **more})


def test_the_plan_is_a_maximum_and_what_it_leaves_goes_to_those_without_one() -> None:
    found = allocate(SITE, [car("a", 10.0), car("b", 0.0), car("c", None)], strategy=PLANNED)
    assert found.offers_a == {"a": 10.0, "c": 20.0}
    assert found.paused == ("b",)
    assert found.bounds["a"] == found.bounds["b"] == Bound(BoundKind.PLAN)
    assert found.bounds["c"].kind is BoundKind.CIRCUIT_LINE


def test_a_plan_never_overrides_a_limit_nor_the_cars_maximum() -> None:
    found = allocate(SITE, [car("a", 28.0), car("b", 28.0), car("c", 28.0, max_a=8.0)], strategy=PLANNED)
    assert found.offers_a == {"a": 11.0, "b": 11.0, "c": 8.0}
    assert found.bounds["c"] == Bound(BoundKind.CAR_MAXIMUM)


@pytest.mark.parametrize(("held", "offers"), [(True, {"a": 8.0}), (False, {})])
def test_what_a_car_may_draw_anyway_is_not_planned_away(held: bool, offers: dict[str, float]) -> None:
    assert allocate(SITE, [car("a", 0.0, min_a=8.0, held=held)], strategy=PLANNED).offers_a == offers


def test_other_strategies_do_not_look_at_the_plan() -> None:
    assert allocate(SITE, [car("a", 0.0)]).offers_a == {"a": 30.0}
