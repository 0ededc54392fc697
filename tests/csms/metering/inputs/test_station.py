from datetime import timedelta

import pytest

from csms.metering.inputs.station import StationInput
from csms.stations.events import MetersReported
from csms.stations.model import PerLine, Reading
from tests.csms.metering.conftest import NOON

GATE = StationInput("gate-1", ("L2", "L3", "L1"))


def at(seconds: float, amps: PerLine) -> Reading:
    return Reading(at=NOON + timedelta(seconds=seconds), current_a=amps)


def test_only_the_main_meter_speaks_of_the_building() -> None:
    for evse in (1, 2, None):
        assert GATE.reading(MetersReported(evse, (at(0, (1.0, 2.0, 3.0)),)), NOON) is None


def test_its_lines_are_put_on_the_supplys_and_it_counts_from_its_arrival() -> None:
    now = NOON + timedelta(seconds=4)
    found = GATE.reading(MetersReported(0, (at(0, (1.0, None, 3.0)),)), now)
    assert found is not None
    assert (found.current_a, found.at) == ((3.0, 1.0, None), now)


def test_the_newest_with_a_current_is_taken_and_history_is_not() -> None:
    told = (at(-50, (9.0, 9.0, 9.0)), at(-10, (1.0, 2.0, 3.0)), at(-5, (None, None, None)))
    found = GATE.reading(MetersReported(0, told), NOON)
    assert found is not None
    assert found.current_a == (3.0, 1.0, 2.0)
    for seconds in (-61, 61):
        assert GATE.reading(MetersReported(0, (at(seconds, (9.0, 9.0, 9.0)),)), NOON) is None


@pytest.mark.parametrize("given", [{}, {"lines": ["L1", "L2", "L3"]}])
def test_lines_are_straight_unless_said_otherwise(given: dict[str, object]) -> None:
    assert StationInput.parse({"station_id": "gate-1"} | given, "meter.input").lines == ("L1", "L2", "L3")
