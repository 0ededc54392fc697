"""The even sharing without delays, against cases that can be worked out by hand."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from tools.simulation.arrivals import arrivals
from tools.simulation.clairvoyant import best_wh
from tools.simulation.description import Description
from tools.simulation.even import even_wh
from tools.simulation.places import Place, Stay

Make = Callable[..., Description]
WICKET = 0
"""One line, 32 A."""


def stays(described: Description, bays: tuple[int, ...]) -> list[Stay]:
    found = []
    for n, (arrival, bay) in enumerate(zip(arrivals(described), bays, strict=True)):
        car = arrival.car(Random(1))
        place = Place(described.stations[bay], delta=described.system.is_delta, random=Random(1))
        found.append(
            Stay(
                arrival=arrival,
                place=place,
                car=car,
                transaction=f"t{n}",
                began_s=arrival.arrives_s,
                need_wh=car.need_wh(),
                ends_s=arrival.departs_s,
            )
        )
    return found


def test_two_equal_cars_share_a_line_evenly_although_one_leaves_early(make: Make) -> None:
    """32 A for two hours, then one alone: the early one has 16 A for its two hours. Who knows that gives
    it 32 A."""
    described = make((WICKET, 1.0, 2.0, 40.0), (WICKET, 1.0, 6.0, 16.0), loads=())
    both = stays(described, (3, 3))
    late, early = both  # they come together; the smaller need is listed first
    found = even_wh(described, both)
    assert found[early.transaction] == pytest.approx(16 * 230 * 2, rel=0.01)
    assert found[late.transaction] == pytest.approx(late.need_wh, rel=0.01)
    assert best_wh(described, both) > 1.2 * sum(found.values())


def test_what_the_building_draws_is_not_there_for_the_cars(make: Make) -> None:
    described = make((WICKET, 1.0, 1.0, 40.0))
    bare = replace(described, loads=())
    (less,) = even_wh(described, stays(described, (3,))).values()
    (more,) = even_wh(bare, stays(bare, (3,))).values()
    assert more == pytest.approx(32 * 230, rel=0.01)
    assert less == pytest.approx(27 * 230, rel=0.01)  # the building draws 5 A
