"""The linear programme against scipy's, over drawn problems."""

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog

from csms.errors import OurFault
from csms.power.planner.layout import Layout, lay_out
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.program import EAGER_PENALTY, NEED_PENALTY, Program


def drawn(seed: int, car: Callable[..., PlannedCar], problem: Callable[..., Problem]) -> Problem:
    rnd = random.Random(seed)
    slots = rnd.randint(2, 10)
    cars = [
        car(
            f"c{i}",
            rnd.choice([(0,), (1,), (2,), (0, 1, 2)]),
            need_wh=float(rnd.randint(0, 6_000)),
            last=rnd.randint(1, slots),
            max_a=float(rnd.choice([10, 16, 32])),
            seed=rnd.random(),
            eager=rnd.random() < 0.2,
        )
        for i in range(rnd.randint(1, 6))
    ]
    heads = {line: tuple(float(rnd.randint(0, 40)) for _ in range(slots)) for line in range(3)}
    prices = tuple(rnd.choice([-0.05, 0.1, 0.2, 0.3]) for _ in range(slots))
    return problem(*cars, slots=slots, heads=heads, prices=prices)


def least(layout: Layout) -> float:
    """The same programme written down for scipy, row by row."""
    cars, slots = layout.window.shape
    count = cars * slots
    penalty = np.where(layout.eager, EAGER_PENALTY, NEED_PENALTY) * layout.scale
    costs = np.concatenate([(layout.cost * layout.kwh).ravel(), penalty])
    bounds = [
        (0.0, layout.high[c] if layout.window[c, s] else 0.0) for c in range(cars) for s in range(slots)
    ]
    bounds += [(0.0, need) for need in layout.need]
    equal = np.zeros((cars, count + cars))
    for c in range(cars):
        equal[c, c * slots : (c + 1) * slots] = layout.kwh[c]
        equal[c, count + c] = 1.0
    rows, limits = [], []
    for row, heads in layout.problem.heads.items():
        for s in range(slots):
            line = np.zeros(count + cars)
            for c, one in enumerate(layout.problem.cars):
                line[c * slots + s] = sum(abs(value) for at, value in one.path if at == row)
            rows.append(line)
            limits.append(heads[s])
    found = linprog(
        costs, A_ub=np.array(rows), b_ub=limits, A_eq=equal, b_eq=layout.need, bounds=bounds, method="highs"
    )
    assert found.status == 0, found.message
    return float(found.fun)


@pytest.mark.parametrize("seed", range(25))
def test_it_costs_as_little_as_scipys(
    seed: int, car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    layout = lay_out(drawn(seed, car, problem))
    program = Program(layout)
    assert program.cheapest()
    penalty = np.where(layout.eager, EAGER_PENALTY, NEED_PENALTY) * layout.scale
    ours = float((program.amps * layout.kwh * layout.cost).sum() + penalty @ program.short)
    assert ours == pytest.approx(least(layout), abs=1e-5)
    assert (layout.weight @ program.amps <= layout.head + 1e-6).all()
    assert (program.amps * layout.kwh).sum(axis=1) + program.short == pytest.approx(layout.need, abs=1e-6)


def test_cars_that_are_held_have_their_minimum_or_nothing(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    layout = lay_out(problem(car("a", need_wh=2_760.0)))
    program = Program(layout)
    on = np.zeros((1, 8), dtype=bool)
    on[0, 3] = on[0, 5] = True
    program.hold(on, np.zeros(1))
    assert program.cheapest()
    assert set(np.nonzero(program.amps[0])[0].tolist()) == {3, 5}
    assert program.amps[0][on[0]].min() >= 6.0 - 1e-6
    assert program.amps[0].sum() == pytest.approx(2_760.0 / 690 / 0.25)


def test_a_shortfall_passes_its_bound_only_when_cars_are_held(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    layout = lay_out(problem(car("a", need_wh=2_760.0)))
    program = Program(layout)
    program.short_at_most(np.array([0]), np.array([0.5]))
    program.hold(np.zeros((1, 8), dtype=bool), np.zeros(1))
    assert program.cheapest()
    assert program.short[0] == pytest.approx(0.5)
    assert program.amps.sum() == 0.0


def test_what_cannot_be_is_our_fault(car: Callable[..., PlannedCar], problem: Callable[..., Problem]) -> None:
    layout = lay_out(problem(car("a", need_wh=100.0)))
    program = Program(layout)
    program.hold(np.ones((1, 8), dtype=bool), np.zeros(1))
    with pytest.raises(OurFault, match="nfeasible"):
        program.cheapest()


def test_time_can_run_out(car: Callable[..., PlannedCar], problem: Callable[..., Any]) -> None:
    asked = problem(*(car(f"c{i}", seed=i / 40) for i in range(40)), slots=96, time_limit_s=-100.0)
    program = Program(lay_out(asked))
    assert program.left_s < 0
