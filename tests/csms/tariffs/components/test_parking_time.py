"""PARKING_TIME counts seconds in which the vehicle asks for nothing, never a pause of ours."""

from fractions import Fraction

import pytest

from csms.tariffs.components.parking_time import ParkingTime
from csms.tariffs.curve import Segment, SegmentKind


@pytest.mark.parametrize("kind", list(SegmentKind))
def test_what_counts(kind: SegmentKind) -> None:
    expected = 90 if kind is SegmentKind.PARKING else None
    assert ParkingTime().used(Segment(kind=kind, duration_s=Fraction(90))) == expected


def test_no_reservation_is_parking() -> None:
    assert not ParkingTime.in_reservation
