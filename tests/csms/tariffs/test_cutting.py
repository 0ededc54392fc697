"""Pieces: where they begin, and that nothing is lost between them."""

from datetime import UTC, datetime, time
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from csms.tariffs.conditions import NONE, Restrictions
from csms.tariffs.curve import Segment, SegmentKind
from csms.tariffs.cutting import current_and_power, cut

START = datetime(2024, 1, 15, 11, tzinfo=UTC)  # noon in Amsterdam
ZONE = ZoneInfo("Europe/Amsterdam")


def charging(seconds: int, wh: int) -> Segment:
    return Segment(kind=SegmentKind.CHARGING, duration_s=Fraction(seconds), energy_wh=Fraction(wh))


def test_no_restriction_no_cut() -> None:
    segments = [charging(3600, 10_000), charging(60, 0)]
    assert [piece.segment for piece in cut(segments, START, ZONE, [NONE])] == segments


def test_cuts_by_energy_duration_and_clock() -> None:
    restrictions = [
        Restrictions(max_energy_kwh=Decimal(4), min_duration_s=600),
        Restrictions(start_time=time(12, 30)),
    ]
    pieces = list(cut([charging(3600, 3000), charging(1800, 3000)], START, ZONE, restrictions))
    assert [piece.moment.elapsed_s for piece in pieces] == [0, 600, 1800, 3600, 4200]
    assert [piece.moment.energy_wh for piece in pieces] == [0, 500, 1500, 3000, 4000]
    assert [f"{piece.moment.local:%H:%M}" for piece in pieces] == [
        "12:00",
        "12:10",
        "12:30",
        "13:00",
        "13:10",
    ]
    assert sum(piece.segment.duration_s for piece in pieces) == 5400
    assert sum(piece.segment.energy_wh for piece in pieces) == 6000


def test_limits_on_a_segment_s_ends_cut_nothing() -> None:
    restrictions = [Restrictions(min_energy_kwh=Decimal(3), max_duration_s=3600)]
    assert len(list(cut([charging(3600, 3000), charging(60, 60)], START, ZONE, restrictions))) == 2


def test_energy_that_takes_no_time_is_cut_as_well() -> None:
    pieces = list(cut([charging(0, 3000)], START, ZONE, [Restrictions(max_energy_kwh=Decimal(1))]))
    assert [piece.segment.energy_wh for piece in pieces] == [1000, 2000]
    assert {piece.at for piece in pieces} == {START}


@pytest.mark.parametrize(
    ("segment", "current", "power"),
    [
        (charging(3600, 6900), 30, 6900),
        (charging(0, 6900), 0, 0),
        (Segment(kind=SegmentKind.CHARGING, duration_s=Fraction(60), current_a=Fraction(48)), 48, 11_040),
        (Segment(kind=SegmentKind.PARKING, duration_s=Fraction(60), current_a=Fraction(1)), 1, 0),
        (Segment(kind=SegmentKind.PARKING, duration_s=Fraction(60)), 0, 0),
    ],
)
def test_what_is_not_given_is_derived(segment: Segment, current: int, power: int) -> None:
    """3 x 16 A at 230 V are 11.04 kW (common practice)."""
    assert current_and_power(segment) == (Fraction(current), Fraction(power))
