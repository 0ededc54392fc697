from collections.abc import Callable
from dataclasses import replace
from random import Random

from tools.simulation.arrivals import arrivals
from tools.simulation.description import Description
from tools.simulation.fairness import longest_wait_s, overlap_s, worst
from tools.simulation.places import Place, Stay

Make = Callable[..., Description]
HERON, HATCH = 2, 3


def pair(make: Make, first: int = HERON, second: int = HERON, **more: object) -> list[Stay]:
    described = make((first, 1.0, 4.0, 30.0), (second, 1.0, 4.0, 30.0))
    found = []
    for n, arrival in enumerate(arrivals(described)):
        place = Place(described.stations[3 + n], delta=False, random=Random(1))
        car = arrival.car(Random(1))
        found.append(
            Stay(
                arrival=arrival,
                place=place,
                car=car,
                transaction=f"t{n}",
                began_s=0.0,
                need_wh=1.0,
                ends_s=10_000.0,
            )
        )
    return found


def test_overlap() -> None:
    assert overlap_s([(0, 10), (20, 30)], 5, 25) == 10


def test_the_difference_of_two_equal_cars_counts(make: Make) -> None:
    one, other = pair(make)
    one.waited = [(100.0, 2000.0), (3000.0, 3500.0)]
    other.waited = [(3000.0, 3500.0)]
    found = worst([one, other])
    assert (found.waited_longer_s, found.longer, found.shorter) == (1900.0, "t0", "t1")
    assert longest_wait_s([one, other]) == 1900.0


def test_only_while_both_needed_energy(make: Make) -> None:
    one, other = pair(make)
    one.waited = [(100.0, 2000.0)]
    other.done_s = 600.0
    assert worst([one, other]).waited_longer_s == 500.0


def test_cars_that_are_not_equal_are_not_compared(make: Make) -> None:
    one, other = pair(make, HERON, HATCH)
    one.waited = [(100.0, 2000.0)]
    assert worst([one, other]).waited_longer_s == 0.0
    one, other = pair(make)
    one.waited = [(100.0, 2000.0)]
    other.arrival = replace(other.arrival, priority=1)
    assert worst([one, other]).waited_longer_s == 0.0
