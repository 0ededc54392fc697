"""What a curve may be."""

from datetime import UTC, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.tariffs.curve import Curve, ReservationOutcome, Segment, SegmentKind, after

START = datetime(2026, 1, 31, 22, tzinfo=UTC)
HOUR = Fraction(3600)
RESERVED = Segment(kind=SegmentKind.RESERVATION, duration_s=HOUR)
CHARGED = Segment(kind=SegmentKind.CHARGING, duration_s=HOUR, energy_wh=Fraction(1000))


def curve(*segments: Segment, outcome: ReservationOutcome | None = None) -> Curve:
    return Curve(start=START, zone=ZoneInfo("Europe/Oslo"), segments=segments, outcome=outcome)


def test_the_session_starts_where_the_reservation_ends() -> None:
    both = curve(RESERVED, RESERVED, CHARGED)
    assert (both.reservation, both.session) == ((RESERVED, RESERVED), (CHARGED,))
    assert both.session_start == datetime(2026, 2, 1, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("segments", "outcome", "expired"),
    [
        ((RESERVED,), None, True),
        ((RESERVED,), ReservationOutcome.EXPIRED, True),
        ((RESERVED,), ReservationOutcome.USED, False),
        ((RESERVED, CHARGED), None, False),
        ((CHARGED,), None, False),
    ],
)
def test_expired(segments: tuple[Segment, ...], outcome: ReservationOutcome | None, expired: bool) -> None:
    assert curve(*segments, outcome=outcome).expired is expired


def test_contradictions_are_named() -> None:
    with pytest.raises(InvalidInput, match=r"segments\[1\]\.kind"):
        curve(CHARGED, RESERVED)
    with pytest.raises(InvalidInput, match=r"segments\[0\]\.energy_kwh"):
        curve(Segment(kind=SegmentKind.RESERVATION, duration_s=HOUR, energy_wh=Fraction(1)))
    with pytest.raises(InvalidInput, match="reservation_outcome"):
        curve(RESERVED, CHARGED, outcome=ReservationOutcome.EXPIRED)
    with pytest.raises(InvalidInput, match="duration_s"):
        Segment(kind=SegmentKind.CHARGING, duration_s=Fraction(-1))
    with pytest.raises(InvalidInput, match="start"):
        Curve(start=START.replace(tzinfo=None), zone=ZoneInfo("UTC"), segments=())


def test_parts_sum_to_the_segment() -> None:
    third = Fraction(1, 3)
    parts = [CHARGED.part(Fraction(0), third), CHARGED.part(third, Fraction(1))]
    assert [part.energy_wh for part in parts] == [Fraction(1000, 3), Fraction(2000, 3)]
    assert sum(part.duration_s for part in parts) == 3600


def test_after_cuts_below_the_microsecond() -> None:
    assert after(START, Fraction(2, 3)) == START.replace(microsecond=666_666)
    assert after(START, Fraction(86_400)) == datetime(2026, 2, 1, 22, tzinfo=UTC)
