"""Who takes part in a plan, and what is left for them, from a site as it is steered."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any

import pytest

from csms.power.caps import CapWindow
from csms.power.installation import LINES, Circuit, Evse, Installation, System, Wiring
from csms.power.planner.forecast import Basis, Forecast
from csms.power.planner.gather import Gathered, Left, gather
from csms.power.planner.need import Goal, Source
from csms.power.planner.prices import per_slot
from csms.power.planner.slots import slots_from
from csms.power.steering.bay import Charge
from csms.power.steering.state import SiteState, new_site

NOW = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
NOW_S = NOW.timestamp()
VANS = [Evse(f"VAN-{i}", 1) for i in range(3)]


def site(**circuit: Any) -> SiteState:
    """Three places on one board behind one supply; a van is at each."""
    installation = Installation(
        system=System.TN_400,
        circuits=(
            Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), **circuit),
            Circuit(id="board", fed_from="main", limit_a=dict.fromkeys(LINES, 40.0)),
        ),
        wirings=tuple(Wiring(evse=evse, circuit="board", fallback_a=6.0) for evse in VANS),
    )
    state = new_site(installation)
    for i, evse in enumerate(VANS):
        bay = state.bays[evse].connected().started(Charge(transaction=f"t{i}", started_s=NOW_S), NOW_S)
        state = state.with_bay(bay)
    return state


def goal(hours: float | None = 12.0, wh: float = 20_000.0) -> Goal:
    departure = None if hours is None else NOW + timedelta(hours=hours)
    return Goal(
        energy_wh=wh,
        left_wh=wh,
        departure=departure,
        energy_from=Source.PERSON,
        departure_from=Source.PERSON if departure else Source.ASSUMED,
    )


def gathered(
    state: SiteState, goals: Mapping[int, Goal] | None = None, base_a: float = 10.0, now: datetime = NOW
) -> Gathered:
    slots = slots_from(now)
    chosen = {i: goal() for i in range(3)} if goals is None else goals
    line_a = {
        "main": (dict.fromkeys(LINES, base_a),) * len(slots),
        "board": (dict.fromkeys(LINES, 0.0),) * len(slots),
    }
    return gather(
        state,
        {VANS[i]: (i + 1, found) for i, found in chosen.items()},
        slots,
        per_slot(slots, None),
        Forecast(line_a, dict.fromkeys(line_a, Basis.HISTORY)),
        now,
        time_limit_s=5.0,
    )


def left(found: Gathered) -> dict[Evse, Left | None]:
    return {each.evse: each.left for each in found.asking}


def test_what_is_left_is_the_limit_without_the_base_load() -> None:
    found = gathered(site())
    problem = found.problem
    assert len(problem.cars) == 3
    assert sorted({head[0] for head in problem.heads.values()}) == [40.0, 53.0]
    car = problem.cars[0]
    assert (car.watts_per_a, car.max_a, car.need_wh, car.last) == (690.0, 32.0, 20_000.0, 48)
    assert len({car.seed for car in problem.cars}) == 3
    assert gathered(site()).problem == problem, "the same twice"


def test_a_car_nobody_told_of_is_eager_and_one_that_is_no_goal_of_ours_is_taken_off() -> None:
    found = gathered(site(), {0: goal(None), 1: goal()})
    assert [(car.id, car.eager, car.last) for car in found.problem.cars] == [
        ("VAN-0/1", True, 96),
        ("VAN-1/1", False, 48),
    ]
    # The third has no offer yet and counts with its fallback of 6 A.
    assert sorted({head[0] for head in found.problem.heads.values()}) == [34.0, 47.0]


def test_who_is_full_lost_leaving_or_late_is_not_planned() -> None:
    state = site()
    state = state.with_bay(state.bays[VANS[0]].wants(False))
    state = state.with_bay(state.bays[VANS[1]].lost(NOW_S))
    found = gathered(state, {0: goal(), 1: goal(), 2: goal(0.2)})
    assert left(found) == {VANS[0]: Left.FULL, VANS[1]: Left.UNREACHABLE, VANS[2]: Left.LEAVING}
    assert found.problem.cars == ()
    assert left(gathered(site(), {0: goal(-1.0)})) == {VANS[0]: Left.GONE_BY}


def test_the_cars_own_limits_count() -> None:
    state = site()
    bay = state.bays[VANS[0]]
    assert bay.charge is not None
    state = state.with_bay(replace(bay, charge=replace(bay.charge, max_a=10.0, priority=3)))
    car = gathered(state).problem.cars[0]
    assert (car.max_a, car.priority) == (10.0, 3)


def test_a_cap_counts_in_every_slot_that_it_touches() -> None:
    """From 19:05 to 19:10 by UTC: the slot from 19:00 on has it, its neighbours have none."""
    window = CapWindow(time(19, 5), time(19, 10), 10_000)
    problem = gathered(site(cap_windows=(window,))).problem
    (caps,) = (head for head in problem.heads.values() if len(set(head)) > 1)
    assert caps[4] == pytest.approx(10_000 - 3 * 10 * 230)
    assert {caps[3], caps[5]} == {float("inf")}


def test_a_start_costs_a_tenth_of_a_kilowatt_hour() -> None:
    found = gathered(site())
    assert found.problem.start_cost == 0.0, "without prices"
