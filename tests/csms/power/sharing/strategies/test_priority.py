from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Bound, BoundKind, Demand
from csms.power.sharing.strategies.priority import PRIORITY

L1, L2, L3 = LINES
SITE = Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 60.0)),))


def test_all_have_the_minimum_and_the_rest_goes_class_by_class() -> None:
    cars = [
        Demand(id="van", circuit="main", lines=LINES, priority=2),
        Demand(id="flat-1", circuit="main", lines=LINES, priority=1, weight=2.0),
        Demand(id="flat-2", circuit="main", lines=LINES, priority=1),
        Demand(id="guest", circuit="main", lines=LINES),
    ]
    found = allocate(SITE, cars, strategy=PRIORITY)
    # 60 - 32 - 6 = 22 A for the two of the second class, by weight.
    assert found.offers_a["van"] == 32.0
    assert found.offers_a["guest"] == 6.0
    assert found.offers_a["flat-1"] == 22 * 2 / 3
    assert found.offers_a["flat-2"] == 22 / 3
    assert found.bounds["guest"] == Bound(BoundKind.CIRCUIT_LINE, "main", L1)


def test_what_decides_on_admission_alone_is_no_class() -> None:
    cars = [
        Demand(id="begun", circuit="main", lines=LINES, priority=100_000, share_class=0, max_a=40.0),
        Demand(id="van", circuit="main", lines=LINES, priority=2, share_class=2, max_a=40.0),
    ]
    assert allocate(SITE, cars, strategy=PRIORITY).offers_a == {"begun": 20.0, "van": 40.0}


def test_a_low_class_takes_what_no_higher_one_can_use() -> None:
    cars = [
        Demand(id="van", circuit="main", lines=(L1,), priority=1, max_a=20.0),
        Demand(id="guest", circuit="main", lines=(L2,), max_a=32.0),
    ]
    assert allocate(SITE, cars, strategy=PRIORITY).offers_a == {"van": 20.0, "guest": 32.0}


def test_a_whole_ampere_that_is_left_goes_to_the_higher_class() -> None:
    place = Installation(
        system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 21.0)),)
    )
    cars = [
        Demand(id=name, circuit="main", lines=LINES, priority=priority, step_a=1.0)
        for name, priority in (("a", 1), ("b", 1), ("guest", 0))
    ]
    # 7.5 A each for the two; by level alone the ampere left over would go to the guest.
    assert allocate(place, cars, strategy=PRIORITY).offers_a == {"a": 8.0, "b": 7.0, "guest": 6.0}
