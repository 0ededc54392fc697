"""The best possible, against cases that can be worked out by hand."""

import math
from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from tools.simulation.arrivals import arrivals
from tools.simulation.clairvoyant import best_wh
from tools.simulation.description import Description
from tools.simulation.places import Place, Stay

Make = Callable[..., Description]
HERON, HATCH = 2, 3


def stays(described: Description, *bays: int) -> list[Stay]:
    found = []
    delta = described.system.is_delta
    for arrival, bay in zip(arrivals(described), bays, strict=True):
        place = Place(described.stations[bay], delta=delta, random=Random(1))
        car = arrival.car(Random(1))
        found.append(
            Stay(
                arrival=arrival,
                place=place,
                car=car,
                transaction="t",
                began_s=arrival.arrives_s,
                need_wh=car.need_wh(),
                ends_s=arrival.departs_s,
            )
        )
    return found


def test_one_car_gets_its_maximum_for_its_stay(make: Make) -> None:
    described = make((HERON, 1.0, 2.0, 60.0), loads=())
    assert best_wh(described, stays(described, 3)) == pytest.approx(3 * 16 * 230 * 2, rel=1e-6)


def test_a_small_need_is_the_bound(make: Make) -> None:
    described = make((HATCH, 1.0, 20.0, 5.0), loads=())
    assert best_wh(described, stays(described, 3)) == pytest.approx(5000, rel=1e-6)


def test_the_supply_less_the_building_is_the_bound(make: Make) -> None:
    """32 A less 5 A for two cars on three lines, away from the steps: 27 A on each line for two hours."""
    described = make((HERON, 8.0, 2.0, 60.0), (HERON, 8.0, 2.0, 60.0))
    assert best_wh(described, stays(described, 3, 4)) == pytest.approx(3 * 27 * 230 * 2, rel=1e-6)


def test_a_board_is_a_bound_of_its_own(make: Make) -> None:
    described = make((HERON, 8.0, 2.0, 60.0), (HERON, 8.0, 2.0, 60.0), loads=())
    assert best_wh(described, stays(described, 0, 1)) == pytest.approx(3 * 25 * 230 * 2, rel=1e-6)


def test_in_the_delta_three_pairs_get_the_root_of_three_less(make: Make) -> None:
    """A 32 A fuse feeds three cars between lines at 18.475 A each; here 16 A is their own maximum, so a
    25 A board binds: 14.434 A each."""
    described = make(*[(HATCH, 8.0, 2.0, 30.0)] * 3, delta=True, loads=(), delta_margin=0.0)
    expected = 3 * 25 / math.sqrt(3) * 230 * 2
    assert best_wh(described, stays(described, 0, 1, 2)) == pytest.approx(expected, rel=4e-3)
    with_margin = replace(described, delta_margin=0.08)
    assert best_wh(with_margin, stays(described, 0, 1, 2)) == pytest.approx(expected / 1.08, rel=4e-3)


def test_the_taper_bounds_a_car_that_is_nearly_full(make: Make) -> None:
    """Hatch at 85 % and above takes less: an hour cannot bring it from 90 % to full, as 16 A would."""
    described = make((HATCH, 8.0, 1.0, 0.1 * 36 / 0.9), loads=())
    best = best_wh(described, stays(described, 3))
    assert 0.4 * 3680 < best < 0.75 * 3680
