"""Who is short of how much, against levels found one car at a time with scipy."""

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog

from csms.power.planner.layout import Layout, lay_out
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.program import Program
from csms.power.planner.shortfall import share_shortfall

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


def shares(layout: Layout) -> Any:
    """Shortfall by car, as a share of its need."""
    program = Program(layout)
    assert share_shortfall(program)
    assert program.cheapest()
    return program.short / layout.need


def test_equal_cars_are_short_alike(car: Car, problem: Make) -> None:
    """Two cars of 16 A for an hour behind 16 A: half of 11.04 kWh each, though one needs twice as much."""
    cars = [car("a", last=4, need_wh=11_040.0), car("b", last=4, need_wh=11_040.0)]
    assert shares(lay_out(problem(*cars, supply_a=16.0))) == pytest.approx([0.5, 0.5], abs=1e-4)
    cars[1] = car("b", last=4, need_wh=5_520.0)
    assert shares(lay_out(problem(*cars, supply_a=16.0))) == pytest.approx([1 / 3, 1 / 3], abs=1e-4)


def test_who_is_short_by_itself_does_not_make_others_short(car: Car, problem: Make) -> None:
    """A car that leaves in a quarter of an hour can have a tenth of its need; the other has all."""
    hasty = car("hasty", (0,), last=1, max_a=32.0, need_wh=18_400.0)
    patient = car("patient", (0,), last=8, max_a=32.0, need_wh=7_000.0)
    found = shares(lay_out(problem(hasty, patient)))
    assert found == pytest.approx([0.9, 0.0], abs=1e-4)


def test_a_higher_class_is_served_first(car: Car, problem: Make) -> None:
    cars = [car("a", last=4, need_wh=11_040.0, priority=1), car("b", last=4, need_wh=11_040.0)]
    assert shares(lay_out(problem(*cars, supply_a=16.0))) == pytest.approx([0.0, 1.0], abs=1e-4)


def test_cars_that_told_no_need_come_last(car: Car, problem: Make) -> None:
    cars = [car("a", last=4, need_wh=11_040.0, eager=True, priority=9), car("b", last=4, need_wh=11_040.0)]
    assert shares(lay_out(problem(*cars, supply_a=16.0))) == pytest.approx([1.0, 0.0], abs=1e-4)


def levels_by_scipy(layout: Layout) -> dict[int, float]:
    """Lexicographic min-max shares: lower all that are not settled together, then settle each car whose own
    share cannot be lower than that, found by a programme of its own."""
    cars, slots = layout.window.shape
    count = cars * slots
    upper = np.where(layout.window, layout.high[:, None], 0.0).ravel()
    rows = np.zeros((len(layout.weight) * slots, count + cars + 1))
    limits = np.zeros(len(rows))
    for q in range(len(layout.weight)):
        for s in range(slots):
            rows[q * slots + s, [c * slots + s for c in range(cars)]] = layout.weight[q]
            limits[q * slots + s] = layout.head[q, s]
    equal = np.zeros((cars, count + cars + 1))
    for c in range(cars):
        equal[c, c * slots : (c + 1) * slots] = layout.kwh[c]
        equal[c, count + c] = layout.need[c]

    def solve(costs: Any, most: dict[int, float], level: list[int]) -> float:
        bounds = [(0.0, high) for high in upper] + [(0.0, most.get(c, 1.0)) for c in range(cars)] + [(0, 1)]
        ties = np.zeros((len(level), count + cars + 1))
        for i, c in enumerate(level):
            ties[i, count + c], ties[i, -1] = 1.0, -1.0
        found = linprog(
            costs,
            A_ub=np.vstack([rows, ties]),
            b_ub=np.concatenate([limits, np.zeros(len(level))]),
            A_eq=equal,
            b_eq=layout.need,
            bounds=bounds,
            method="highs",
        )
        assert found.status == 0, found.message
        return float(found.fun)

    settled: dict[int, float] = {}
    while len(settled) < cars:
        left = [c for c in range(cars) if c not in settled]
        costs = np.zeros(count + cars + 1)
        costs[-1] = 1.0
        level = solve(costs, settled, left)
        bound = {**settled, **dict.fromkeys(left, level + 1e-07)}
        before = len(settled)
        for c in left:
            own = np.zeros(count + cars + 1)
            own[count + c] = 1.0
            if solve(own, bound, []) > level - 1e-5:
                settled[c] = level + 1e-7
        assert len(settled) > before
    return settled


@pytest.mark.parametrize("seed", range(12))
def test_shares_are_those_found_one_car_at_a_time(seed: int, car: Car, problem: Make) -> None:
    rnd = random.Random(seed)
    slots = rnd.randint(2, 6)
    cars = [
        car(
            f"c{i}",
            rnd.choice([(0,), (1,), (0, 1, 2)]),
            need_wh=float(rnd.randint(2_000, 9_000)),
            last=rnd.randint(1, slots),
            max_a=float(rnd.choice([10, 16, 32])),
        )
        for i in range(rnd.randint(2, 5))
    ]
    heads = {line: tuple(float(rnd.randint(6, 24)) for _ in range(slots)) for line in range(3)}
    layout = lay_out(problem(*cars, slots=slots, heads=heads))
    expected = levels_by_scipy(layout)
    assert shares(layout) == pytest.approx([expected[c] for c in range(len(cars))], abs=2e-4)
