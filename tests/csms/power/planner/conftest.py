"""Small problems to plan: cars behind one supply, by hand or drawn."""

from collections.abc import Callable
from typing import Any

import pytest

from csms.power.planner.problem import PlannedCar, Problem

STAR_W = 230.0
"""W per A of a car on one line against neutral (230 V)."""


def make_car(id: str, lines: tuple[int, ...] = (0, 1, 2), **facts: Any) -> PlannedCar:
    """A car on lines 0 to 2 of one supply, whose rows are the lines."""
    usual: dict[str, Any] = {
        "path": tuple((line, 1.0) for line in lines),
        "watts_per_a": STAR_W * len(lines),
        "max_a": 16.0,
        "need_wh": 5_520.0,
        "last": 8,
    }
    return PlannedCar(id=id, **{**usual, **facts})


def make_problem(*cars: PlannedCar, slots: int = 8, supply_a: float = 32.0, **facts: Any) -> Problem:
    """Quarter hours that all cost the same."""
    usual: dict[str, Any] = {
        "hours": (0.25,) * slots,
        "heads": dict.fromkeys(range(3), (supply_a,) * slots),
        "prices": (0.3,) * slots,
        "start_cost": 0.01,
        "time_limit_s": 30.0,
    }
    return Problem(cars=cars, **{**usual, **facts})


@pytest.fixture
def car() -> Callable[..., PlannedCar]:
    """Makes a car: `car("a", (0,), need_wh=3000, last=4)`."""
    return make_car


@pytest.fixture
def problem() -> Callable[..., Problem]:
    """Makes a problem of cars."""
    return make_problem
