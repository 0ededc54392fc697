"""Calendar months of places with summer time, against the tz database's known changes."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from api.reports.period import month_of
from csms.errors import InvalidInput


@pytest.mark.parametrize(
    ("month", "zone", "start", "hours"),
    [
        # Directive 2000/84/EC: summer time ends on the last Sunday of October, begins on that of March.
        ("2026-10", "Europe/Brussels", datetime(2026, 9, 30, 22, tzinfo=UTC), 31 * 24 + 1),
        ("2026-03", "Europe/Brussels", datetime(2026, 2, 28, 23, tzinfo=UTC), 31 * 24 - 1),
        ("2026-11", "Europe/Brussels", datetime(2026, 10, 31, 23, tzinfo=UTC), 30 * 24),
        ("2026-12", "Europe/Brussels", datetime(2026, 11, 30, 23, tzinfo=UTC), 31 * 24),
        ("2028-02", "UTC", datetime(2028, 2, 1, tzinfo=UTC), 29 * 24),
        # From the tz database: Paraguay went over to summer time in the night to 1 October 2023,
        # when midnight was skipped: the month begins at 01:00 local time, 04:00 UTC.
        ("2023-10", "America/Asuncion", datetime(2023, 10, 1, 4, tzinfo=UTC), 31 * 24 - 1),
    ],
)
def test_months(month: str, zone: str, start: datetime, hours: int) -> None:
    period = month_of(month, ZoneInfo(zone))
    assert period.start == start
    assert period.end - period.start == timedelta(hours=hours)


def test_months_follow_each_other_without_gap() -> None:
    zone = ZoneInfo("America/New_York")
    months = [month_of(f"{2026 + n // 12}-{n % 12 + 1:02}", zone) for n in range(24)]
    assert all(one.end == other.start for one, other in pairwise(months))


@pytest.mark.parametrize(
    "wrong",
    [
        "",
        "2026",
        "2026-13",
        "2026-00",
        "2026-1",
        "11-2026",
        "2026-11-01",
        "1999-12",
        "２０２６-11",
        "2026-11\n",
    ],
)
def test_what_is_no_month_is_refused(wrong: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        month_of(wrong, ZoneInfo("UTC"))
    assert refused.value.field == "month"
