"""Who is to charge in which slot: minima that fit together."""

from collections.abc import Callable

import numpy as np

from csms.power.planner.layout import lay_out
from csms.power.planner.pattern import pattern
from csms.power.planner.problem import PlannedCar, Problem

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


def test_the_larger_share_is_taken_where_not_all_minima_fit(car: Car, problem: Make) -> None:
    """Behind 13 A there is room for two cars at 6 A."""
    layout = lay_out(problem(car("a"), car("b"), car("c"), slots=1, supply_a=13.0))
    on = pattern(layout, np.array([[3.0], [5.0], [5.5]]))
    assert on[:, 0].tolist() == [False, True, True]


def test_who_has_its_minimum_stays_and_next_to_nothing_is_nothing(car: Car, problem: Make) -> None:
    layout = lay_out(problem(car("a"), car("b"), car("c"), slots=1, supply_a=64.0))
    assert pattern(layout, np.array([[6.0], [0.2], [2.0]]))[:, 0].tolist() == [True, False, True]


def test_no_car_is_given_more_slots_than_its_need_fills(car: Car, problem: Make) -> None:
    """6 A on three lines for a quarter of an hour are 1.035 kWh."""
    layout = lay_out(problem(car("a", need_wh=2_100.0), slots=4))
    assert pattern(layout, np.array([[3.0, 3.1, 3.2, 2.9]])).sum() == 2
    layout = lay_out(problem(car("a", need_wh=1_000.0), slots=4))
    assert pattern(layout, np.array([[3.0, 2.8, 0.0, 0.0]])).sum() == 0
