from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Demand
from csms.power.sharing.strategies.weighted import WEIGHTED

SITE = Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 60.0)),))


def test_shares_are_in_proportion_to_the_weights() -> None:
    cars = [Demand(id=f"c{w}", circuit="main", lines=LINES, max_a=63.0, weight=float(w)) for w in (1, 2, 3)]
    assert allocate(SITE, cars, strategy=WEIGHTED).offers_a == {"c1": 10.0, "c2": 20.0, "c3": 30.0}
    # It is also what a site does that names none.
    assert allocate(SITE, cars).offers_a == {"c1": 10.0, "c2": 20.0, "c3": 30.0}
