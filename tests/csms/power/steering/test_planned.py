"""A plan only lowers, and lets go of who is behind, near its departure, or when it is old."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from csms.power.installation import Evse
from csms.power.sharing.demand import BoundKind
from csms.power.sharing.strategies import PLANNED, WEIGHTED
from csms.power.steering.planned import ARRIVAL_S, CarPlan, SitePlan

VAN = Evse("VAN-1", 1)
HOUR_S = 3600.0


def car(**facts: Any) -> CarPlan:
    """Nothing for an hour, then 16 A on three lines (11.04 kW) for two, of which it needs 20 kWh."""
    usual: dict[str, Any] = {
        "transaction": "t1",
        "edges_s": (0.0, HOUR_S, 3 * HOUR_S, 10 * HOUR_S),
        "current_a": (0.0, 16.0, 0.0),
        "energy_wh": 20_000.0,
        "full_w": 11_040.0,
        "watts_per_a": 690.0,
        "departure_s": 10 * HOUR_S,
    }
    return CarPlan(**{**usual, **facts})


def test_it_says_what_each_hour_has_and_nothing_outside() -> None:
    plan = car()
    assert plan.most_a(0.0, 10.0) == 0.0
    assert plan.most_a(0.0, HOUR_S) == 16.0
    assert plan.current(-1.0) is None
    assert plan.current(10 * HOUR_S) is None


def test_a_car_behind_its_plan_is_let_go() -> None:
    """After an hour of 11.04 kW it should have 11,040 Wh; a quarter of an hour at full power is 2,760."""
    plan = car()
    assert plan.expected_wh(2 * HOUR_S) == pytest.approx(11_040.0)
    assert plan.most_a(11_040.0 - 2_700.0, 2 * HOUR_S) == 16.0
    assert plan.most_a(11_040.0 - 2_800.0, 2 * HOUR_S) is None
    slow = replace(plan, full_w=2_000.0)
    assert slow.most_a(11_040.0 - 1_001.0, 2 * HOUR_S) is None, "a kilowatt-hour at least"


def test_a_car_near_its_departure_is_let_go() -> None:
    """20 kWh at 11.04 kW take 1.81 h; with 15 % and a quarter of an hour that is 2.33 h."""
    plan = car(current_a=(0.0, 0.0, 0.0))
    assert plan.most_a(0.0, 7.6 * HOUR_S) == 0.0
    assert plan.most_a(0.0, 7.7 * HOUR_S) is None
    assert plan.most_a(0.0, 10 * HOUR_S) is None, "and after it"


def test_a_car_that_has_what_it_needs_is_held_only_when_the_need_was_told() -> None:
    assert car().most_a(20_000.0, 2 * HOUR_S) == 0.0
    assert car(exact=False).most_a(20_000.0, 2 * HOUR_S) is None
    assert car(free=True).most_a(0.0, 10.0) is None


def test_an_old_plan_says_nothing() -> None:
    plan = SitePlan(0.0, 2 * HOUR_S, {VAN: car()})
    assert plan.most_a(VAN, "t1", 0.0, 0.0, 10.0) == 0.0
    assert plan.most_a(VAN, "t1", 0.0, 0.0, 2 * HOUR_S) is None


def test_a_car_that_has_just_come_waits_for_its_first_plan_and_no_longer() -> None:
    plan = SitePlan(0.0, 2 * HOUR_S, {VAN: car()})
    for evse, transaction in ((Evse("VAN-2", 1), "t9"), (VAN, "t2")):
        assert plan.most_a(evse, transaction, 100.0, 0.0, 100.0 + ARRIVAL_S - 1) == 0.0
        assert plan.most_a(evse, transaction, 100.0, 0.0, 100.0 + ARRIVAL_S) is None


def test_it_tells_when_it_changes() -> None:
    plan = SitePlan(0.0, 2 * HOUR_S, {VAN: car()})
    assert plan.next_change_s(10.0) == HOUR_S
    assert plan.next_change_s(HOUR_S) == 2 * HOUR_S
    assert plan.next_change_s(2 * HOUR_S) is None


@pytest.mark.parametrize("strategy", [PLANNED, WEIGHTED])
def test_the_steering_lowers_a_planned_car_and_wakes_when_its_hour_comes(
    yard: Callable[..., Any], strategy: Any
) -> None:
    """Under any other strategy the same plan changes nothing."""
    made = yard(bays=1)
    site = replace(made.site, strategy=strategy)
    made.state = replace(made.state, network=type(made.state.network)(site))
    made.connect().settle()
    made.plug(0).settle(120)
    assert made.offered() == [32.0]
    now = made.now_s
    hour = CarPlan(
        transaction="t1",
        edges_s=(now, now + 600.0, now + 36_000.0),
        current_a=(0.0, 10.0),
        energy_wh=30_000.0,
        departure_s=now + 36_000.0,
        full_w=22_080.0,
    )
    made.state = replace(made.state, plan=SitePlan(now, now + 7_200.0, {made.evses[0]: hour}))
    made.settle(1)
    if strategy is WEIGHTED:
        assert made.offered() == [32.0]
        return
    assert made.offered() == [0.0]
    assert made.bay(0).why.kind is BoundKind.PLAN
    assert made.look().wake_s <= now + 600.0
    made.settle(700)
    assert made.offered() == [10.0]
    made.now_s = now + 7_201.0
    made.settle(120)
    assert made.offered() == [32.0], "the plan is too old"
