from typing import Any

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Demand
from csms.power.sharing.strategies.first_come import FIRST_COME

SITE = Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 60.0)),))


def car(id: str, connected_s: float, **more: Any) -> Demand:
    return Demand(**{"id": id, "circuit": "main", "lines": LINES, "connected_s": connected_s, **more})


def test_the_first_takes_all_it_can_and_then_the_next() -> None:
    cars = [car("late", 10.0), car("first", 900.0, weight=0.1), car("next", 300.0)]
    found = allocate(SITE, cars, strategy=FIRST_COME)
    assert found.offers_a == {"late": 6.0, "first": 32.0, "next": 22.0}


def test_nobody_takes_turns() -> None:
    cars = [car(f"c{i}", 100.0 - i) for i in range(11)]
    # The last has waited for long, and the first has had much: by the clock of arrival that is no matter.
    cars[10] = car("c10", 90.0, waiting_s=1e6)
    cars[0] = car("c0", 100.0, energy_served_wh=1e6)
    found = allocate(SITE, cars, strategy=FIRST_COME)
    assert found.paused == ("c10",)
    assert found.offers_a == {f"c{i}": 6.0 for i in range(10)}


def test_whole_amperes_that_are_left_go_to_the_first_too() -> None:
    # 3 A are left: the first takes them all, with equal shares each would have one.
    cars = [car(f"c{i}", 100.0 - i, step_a=1.0, max_a=20.0) for i in range(3)]
    place = Installation(
        system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 21.9)),)
    )
    assert allocate(place, cars, strategy=FIRST_COME).offers_a == {"c0": 9.0, "c1": 6.0, "c2": 6.0}
