"""Ours beside a station's: what counts as a difference and what does not."""

from datetime import UTC, datetime, timedelta

import pytest

from csms.stations.composite.combine import Composite, Step
from csms.stations.composite.compare import Difference, differences
from csms.stations.model import CompositeSchedule, ProfilePeriod, RateUnit

T0 = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
OURS = Composite(T0, 400, RateUnit.AMPERE, (Step(0, 8.0), Step(50, 10.04), Step(200, 6.0), Step(300, None)))


def theirs(
    *periods: tuple[int, float],
    unit: RateUnit = RateUnit.AMPERE,
    start: datetime | None = T0,
    duration_s: int = 400,
    phases: int | None = None,
) -> CompositeSchedule:
    return CompositeSchedule(start, duration_s, unit, tuple(ProfilePeriod(*each, phases) for each in periods))


def test_a_rounded_schedule_with_a_hardware_limit_is_the_same() -> None:
    same = theirs((0, 8.0), (50, 10.0), (200, 6.0), (300, 32.0))
    assert differences(OURS, same, most_a=32) == ()
    in_watts = theirs((0, 5520), (50, 6900), (200, 4140), (300, 22080), unit=RateUnit.WATT, phases=3)
    assert differences(OURS, in_watts, most_a=32) == ()


def test_a_clock_that_is_a_little_off_is_no_difference() -> None:
    late = theirs((0, 8.0), (53, 10.0), (196, 6.0), (300, 32.0))
    assert differences(OURS, late, most_a=32) == ()
    shifted = theirs((0, 8.0), (48, 10.0), (198, 6.0), (298, 32.0), start=T0 + timedelta(seconds=2))
    assert differences(OURS, shifted, most_a=32) == ()
    assert differences(OURS, late, most_a=32, slack_s=2) == (
        Difference(50, 53, 10.04, 8.0),
        Difference(196, 200, 10.04, 6.0),
    )


def test_what_differs_is_told_with_its_time() -> None:
    loose = theirs((0, 8.0), (50, 16.0), (300, 32.0))
    assert differences(OURS, loose, most_a=32) == (
        Difference(50, 200, 10.04, 16.0),
        Difference(200, 300, 6.0, 16.0),
    )
    assert all(each.looser for each in differences(OURS, loose, most_a=32))
    tight = theirs((0, 8.0), (50, 10.0), (200, 6.0))
    (one,) = differences(OURS, tight, most_a=32)
    assert one == Difference(300, 400, None, 6.0)
    assert not one.looser


def test_a_station_without_a_limit() -> None:
    found = differences(OURS, None, most_a=32)
    assert [(each.from_s, each.to_s, each.ours, each.theirs) for each in found] == [
        (0, 50, 8.0, None),
        (50, 200, 10.04, None),
        (200, 300, 6.0, None),
    ]
    free = Composite(T0, 400, RateUnit.AMPERE, (Step(0, None),))
    assert differences(free, None, most_a=32) == ()


@pytest.mark.parametrize("duration_s", [100, 50])
def test_only_the_time_that_both_speak_of_counts(duration_s: int) -> None:
    assert differences(OURS, theirs((0, 8.0), (50, 10.0), duration_s=duration_s), most_a=32) == ()
