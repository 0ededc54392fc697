"""Months from local midnight to local midnight."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.ledger.period import Month, days_within, midnight

OSLO = ZoneInfo("Europe/Oslo")


def test_months_follow_each_other_over_the_year() -> None:
    december = Month.parse("2026-12")
    assert str(december.after) == "2027-01"
    assert december < december.after
    assert (december.days, Month(2028, 2).days) == (31, 29)
    assert Month.of_day(date(2026, 12, 31)) == december


def test_a_month_with_a_change_of_summer_time_is_an_hour_off() -> None:
    start, end = Month(2026, 3).bounds(OSLO)
    assert start == datetime(2026, 2, 28, 23, tzinfo=UTC)
    assert end - start == timedelta(days=31, hours=-1)
    start, end = Month(2026, 10).bounds(OSLO)
    assert end - start == timedelta(days=31, hours=1)


def test_days_are_counted_by_their_beginning() -> None:
    march = Month(2026, 3)
    moved = midnight(date(2026, 3, 29), OSLO)
    assert days_within(None, None, march, OSLO) == 31
    assert days_within(None, moved, march, OSLO) == 28
    assert days_within(moved, None, march, OSLO) == 3
    assert days_within(moved, moved + timedelta(hours=2), march, OSLO) == 1


@pytest.mark.parametrize("text", ["2026", "2026-13", "26-01", "2026-1", "٢٠٢٦-٠١"])
def test_what_is_no_month_is_named(text: str) -> None:
    with pytest.raises(InvalidInput, match="month: must be a year and a month"):
        Month.parse(text, "month")
