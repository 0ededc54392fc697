"""The benchmark of plans: its garage, its count of costs, and the exact programme it compares with."""

import numpy as np
import pytest

from csms.power.planner.layout import lay_out
from csms.power.planner.optimise import optimise
from tools.bench.planning import SHORT_PENALTY, cost_of, exact, garage


def test_the_garage_is_the_same_for_equal_arguments() -> None:
    assert garage(5) == garage(5)
    assert garage(5) != garage(5, seed=2)
    assert {len(car.path) for car in garage(5).cars} == {2, 6}


def test_costs_are_counted_by_the_amperes_alone() -> None:
    """11.04 kWh at 0.30 in two runs, of what the first car needs."""
    problem = garage(1, two_prices=True)
    layout = lay_out(problem)
    amps = np.zeros(layout.window.shape)
    amps[0, [0, 1, 3, 4]] = 16.0
    energy, missing, starts = cost_of(layout, amps)
    assert energy == pytest.approx(11.04 * 0.3)
    assert missing == pytest.approx(layout.need[0] - 11.04)
    assert starts == 2


def test_the_exact_programme_is_no_dearer_than_ours_and_its_bound_is_below_both() -> None:
    problem = garage(3, two_prices=True)
    layout = lay_out(problem)
    solution = optimise(problem)
    ours = np.array([solution.current_a[car.id] for car in problem.cars])
    theirs, bound = exact(layout, ours, 5.0)
    worth = []
    for amps in (ours, theirs):
        energy, missing, starts = cost_of(layout, amps)
        worth.append(energy + problem.start_cost * starts + SHORT_PENALTY * missing)
    assert worth[1] <= worth[0] + 1e-3
    assert bound <= worth[1] + 1e-3
    assert worth[0] <= 1.02 * worth[1]
