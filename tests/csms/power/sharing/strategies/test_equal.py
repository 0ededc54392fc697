from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Demand
from csms.power.sharing.strategies.equal import EQUAL

SITE = Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 60.0)),))


def test_weights_are_not_looked_at_but_classes_are_admitted_first() -> None:
    cars = [Demand(id=f"c{w}", circuit="main", lines=LINES, weight=float(w)) for w in (1, 2, 3)]
    assert allocate(SITE, cars, strategy=EQUAL).offers_a == {"c1": 20.0, "c2": 20.0, "c3": 20.0}
    many = [
        Demand(id=f"c{i:02}", circuit="main", lines=LINES, priority=int(i == 11), weight=0.5)
        for i in range(12)
    ]
    found = allocate(SITE, many, strategy=EQUAL)
    assert found.paused == ("c09", "c10")
    assert "c11" in found.offers_a
