"""Amperes that no car can be told become some that it can, within every limit."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.planner.layout import lay_out
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.repair import Repair

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]
PRICES = (0.1, 0.2, 0.3, 0.4)


def repaired(asked: Problem, amps: list[list[float]], short_kwh: list[float] | None = None) -> Repair:
    made = Repair(lay_out(asked), np.array(amps))
    made.run(np.zeros(len(amps)) if short_kwh is None else np.array(short_kwh))
    return made


def test_a_small_rest_goes_on_top_of_a_slot_that_has_room(car: Car, problem: Make) -> None:
    one = car("a", need_wh=690 * 0.25 * 14.0, last=4)
    found = repaired(problem(one, slots=4, prices=PRICES), [[10.0, 0.0, 4.0, 0.0]])
    assert found.amps[0].tolist() == pytest.approx([14.0, 0.0, 0.0, 0.0])


def test_a_rest_below_the_minimum_is_filled_up_from_the_dearest_slot(car: Car, problem: Make) -> None:
    """18 A-slots: 16 A in the cheapest leaves 2 A, which is nothing; so 12 and 6 A."""
    one = car("a", need_wh=690 * 0.25 * 18.0, last=4)
    found = repaired(problem(one, slots=4, prices=PRICES), [[16.0, 2.0, 0.0, 0.0]])
    assert found.amps[0].tolist() == pytest.approx([12.0, 6.0, 0.0, 0.0])


def test_a_need_below_one_slot_at_the_minimum_gets_that_slot(car: Car, problem: Make) -> None:
    found = repaired(problem(car("a", need_wh=300.0, last=4), slots=4, prices=PRICES), [[1.8, 0.0, 0.0, 0.0]])
    assert found.amps[0].tolist() == [6.0, 0.0, 0.0, 0.0]


def test_others_make_room_for_a_minimum(car: Car, problem: Make) -> None:
    """One slot for the first car, in which the second has it all; that one has time later."""
    first = car("a", need_wh=690 * 0.25 * 6.0, last=1)
    second = car("b", need_wh=690 * 0.25 * 16.0, last=4)
    found = repaired(
        problem(first, second, slots=4, supply_a=16.0, prices=PRICES),
        [[0.0] * 4, [16.0, 0.0, 0.0, 0.0]],
    )
    assert found.amps[0].tolist() == pytest.approx([6.0, 0.0, 0.0, 0.0])
    assert found.amps[1].tolist() == pytest.approx([10.0, 6.0, 0.0, 0.0], abs=1e-6)


def test_what_the_programme_left_out_is_not_looked_for(car: Car, problem: Make) -> None:
    one = car("a", need_wh=690 * 0.25 * 20.0, last=4)
    asked = problem(one, slots=4, prices=PRICES)
    assert repaired(asked, [[16.0, 0.0, 0.0, 0.0]], [690 * 0.25 * 4.0 / 1000]).amps[0].sum() == 16.0


def test_a_lone_slot_is_joined_to_a_run_when_that_costs_less_than_a_start(car: Car, problem: Make) -> None:
    one = car("a", need_wh=690 * 0.25 * 32.0, last=4)
    prices = (0.1, 0.2, 0.19, 0.1)
    calm = repaired(problem(one, slots=4, prices=prices, start_cost=0.5), [[16.0, 0.0, 0.0, 16.0]])
    assert np.flatnonzero(np.diff(np.concatenate([[0], calm.amps[0] > 0]).astype(int)) == 1).size == 1
    cheap = repaired(problem(one, slots=4, prices=prices, start_cost=0.01), [[16.0, 0.0, 0.0, 16.0]])
    assert cheap.amps[0].tolist() == [16.0, 0.0, 0.0, 16.0]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.floats(8, 60), st.integers(2, 6), st.integers(2, 8))
def test_no_step_passes_a_limit_and_nothing_is_left_between(
    seed: int, supply_a: float, count: int, slots: int
) -> None:
    rnd = np.random.default_rng(seed)
    cars = []
    for i in range(count):
        lines = [(0,), (1,), (2,), (0, 1, 2)][rnd.integers(4)]
        cars.append(
            PlannedCar(
                id=str(i),
                path=tuple((line, 1.0) for line in lines),
                watts_per_a=230.0 * len(lines),
                max_a=float(rnd.choice([6.0, 16.0, 32.0])),
                need_wh=float(rnd.uniform(100, 9_000)),
                last=int(rnd.integers(1, slots + 1)),
            )
        )
    asked = Problem(
        hours=(0.25,) * slots,
        heads=dict.fromkeys(range(3), (supply_a,) * slots),
        prices=tuple(rnd.choice([0.1, 0.2, 0.3], slots)),
        cars=tuple(cars),
        start_cost=0.02,
    )
    layout = lay_out(asked)
    amps = np.where(layout.window, rnd.uniform(0, layout.high[:, None], (count, slots)), 0.0)
    most = (layout.weight @ amps).max(axis=0)
    amps *= np.minimum(1.0, supply_a / np.maximum(most, 1e-9))
    share = layout.need / np.maximum((amps * layout.kwh).sum(axis=1), 1e-9)
    amps *= np.minimum(1.0, share)[:, None]
    made = Repair(layout, amps)
    made.run(np.zeros(count))
    told = made.amps > 0
    assert (made.amps[told] >= 6.0 - 1e-6).all()
    assert (made.amps <= layout.high[:, None] + 1e-6).all()
    assert not (told & ~layout.window).any()
    assert (layout.weight @ made.amps <= layout.head + 1e-6).all()
    assert made.load == pytest.approx(layout.weight @ made.amps, abs=1e-6)
    over = (made.amps * layout.kwh).sum(axis=1) - layout.need
    assert (over <= 6.0 * layout.kwh.max(axis=1) + 1e-6).all(), "more than a slot at the minimum too much"
