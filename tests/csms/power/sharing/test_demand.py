import pytest

from csms.power.installation import LINES, Line, System
from csms.power.sharing.demand import BoundKind, Connection, Demand, usual_connection


@pytest.mark.parametrize(
    ("system", "lines", "expected"),
    [
        (System.TN_400, (Line.L1,), Connection.LINES),
        (System.TT_400, LINES, Connection.LINES),
        (System.IT_230, (Line.L1, Line.L3), Connection.PAIR),
        (System.TT_230, LINES, Connection.BALANCED),
    ],
)
def test_usual_connection(system: System, lines: tuple[Line, ...], expected: Connection) -> None:
    assert usual_connection(system, lines) is expected


def test_a_demand_asks_for_what_a_pilot_can_offer() -> None:
    demand = Demand(id="car", circuit="main", lines=LINES)
    # IEC 61851-1: nothing between 0 and 6 A can be offered.
    assert demand.min_a == 6.0
    assert demand.maximum_is is BoundKind.CAR_MAXIMUM
