"""Quarters that cost the same become half hours, and back."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from csms.power.planner.blocks import block_edges, in_blocks, in_slots
from csms.power.planner.optimise import optimise
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.repair import starts_of
from tools.bench.planning import garage

Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


def test_two_quarters_of_one_price_are_one(car: Car, problem: Make) -> None:
    heads = {0: (9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0)}
    asked = problem(car("a", last=3), prices=(0.1,) * 3 + (0.2,) * 5, heads=heads)
    edges = block_edges(asked, 2)
    assert edges == [0, 2, 3, 5, 7, 8]
    found = in_blocks(asked, edges)
    assert found.hours == (0.5, 0.25, 0.5, 0.5, 0.25)
    assert found.prices == (0.1, 0.1, 0.2, 0.2, 0.2)
    assert found.heads[0] == (8.0, 7.0, 5.0, 3.0, 2.0), "what the worse quarter leaves"
    assert found.cars[0].last == 2
    assert block_edges(asked, 4) == [0, 3, 7, 8]


def test_a_car_that_leaves_in_a_block_is_not_in_it(car: Car, problem: Make) -> None:
    asked = problem(car("a", last=3))
    assert in_blocks(asked, block_edges(asked, 2)).cars[0].last == 1


def test_currents_come_back_by_the_quarter() -> None:
    assert in_slots(np.array([[6.0, 0.0]]), [0, 2, 3]).tolist() == [[6.0, 6.0, 0.0]]


def test_cars_are_switched_less_often_when_a_start_costs_something() -> None:
    """Forty cars with hourly prices, as in the benchmark: at least a fifth fewer starts."""

    def starts(start_cost: float) -> int:
        found = optimise(replace(garage(40, supply_a=100.0), start_cost=start_cost))
        assert sum(found.short_wh.values()) == pytest.approx(0.0, abs=1.0)
        return sum(starts_of(np.array(amps), False) for amps in found.current_a.values())

    assert starts(0.02) <= 0.8 * starts(0.0)
