"""TIME counts charging and reserved seconds, and nothing else."""

from fractions import Fraction

import pytest

from csms.tariffs.components.parking_time import ParkingTime
from csms.tariffs.components.time import Time
from csms.tariffs.curve import Segment, SegmentKind


@pytest.mark.parametrize(
    ("kind", "used"),
    [
        (SegmentKind.CHARGING, 90),
        (SegmentKind.RESERVATION, 90),
        (SegmentKind.PARKING, None),
        (SegmentKind.PAUSED, None),
    ],
)
def test_what_counts(kind: SegmentKind, used: int | None) -> None:
    assert Time().used(Segment(kind=kind, duration_s=Fraction(90))) == used


def test_it_shares_its_rounding_with_parking() -> None:
    assert Time.rounds_with == ParkingTime.rounds_with is not None
    assert (Time.base_per_price, Time.base_per_unit) == (3600, 60), "per hour, printed in minutes"
