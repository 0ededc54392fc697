"""Where a site's days and months begin, on days of 23, 24 and 25 hours too."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from csms.metering.edges import first_instant, grid, midnights, month_starts

BRUSSELS = ZoneInfo("Europe/Brussels")

# Market days of 2026 and 2027, counted by hand from the EU's summer time rule (Directive 2000/84/EC).
DAYS = [
    (date(2026, 1, 15), "2026-01-14T23:00Z", 96),
    (date(2026, 3, 29), "2026-03-28T23:00Z", 92),
    (date(2026, 10, 25), "2026-10-24T22:00Z", 100),
    (date(2027, 3, 28), "2027-03-27T23:00Z", 92),
    (date(2027, 10, 31), "2027-10-30T22:00Z", 100),
]


@pytest.mark.parametrize(("day", "begins", "quarters"), DAYS)
def test_a_day_has_the_quarter_hours_it_has(day: date, begins: str, quarters: int) -> None:
    start = first_instant(day, BRUSSELS)
    end = first_instant(date.fromordinal(day.toordinal() + 1), BRUSSELS)
    assert start == datetime.fromisoformat(begins)
    assert len(grid(start, end, 15)) + 1 == quarters
    assert len(grid(start, end, 60)) + 1 == quarters / 4


def test_midnights_and_months_lie_strictly_within() -> None:
    start = first_instant(date(2026, 1, 31), BRUSSELS)
    end = first_instant(date(2026, 2, 3), BRUSSELS)
    first = datetime(2026, 1, 31, 23, tzinfo=UTC)
    assert midnights(start, end, BRUSSELS) == (first, datetime(2026, 2, 1, 23, tzinfo=UTC))
    assert month_starts(start, end, BRUSSELS) == (first,)
    assert month_starts(first, end, BRUSSELS) == ()
    assert midnights(start, start, BRUSSELS) == ()


def test_a_day_without_midnight_begins_where_the_clock_goes_on() -> None:
    """In Cairo 28 April 2023 began at 01:00: its clock skipped the hour from midnight (tz database)."""
    began = first_instant(date(2023, 4, 28), ZoneInfo("Africa/Cairo"))
    assert began == datetime(2023, 4, 27, 22, tzinfo=UTC)
    assert began.astimezone(ZoneInfo("Africa/Cairo")).hour == 1


def test_the_grid_is_that_of_the_clock() -> None:
    start = datetime(2026, 1, 15, 10, 7, 30, tzinfo=UTC)
    assert [f"{at:%H:%M}" for at in grid(start, start.replace(hour=11, minute=0, second=0), 15)] == [
        "10:15",
        "10:30",
        "10:45",
    ]
    assert grid(start.replace(minute=15, second=0), start.replace(minute=30, second=0), 15) == ()
