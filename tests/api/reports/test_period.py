"""Calendar months of places with summer time, against the tz database's known changes."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from api.reports.period import days, month_of, months, offset_s, period_of, steps
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
    found = [month_of(f"{2026 + n // 12}-{n % 12 + 1:02}", zone) for n in range(24)]
    assert all(one.end == other.start for one, other in pairwise(found))


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


BRUSSELS = ZoneInfo("Europe/Brussels")


def test_foundand_instants_and_months_are_periods() -> None:
    found = period_of("2026-11-01", "2026-12-01", None, BRUSSELS)
    assert found == period_of(None, None, "2026-11", BRUSSELS)
    instants = period_of("2026-11-01T00:00+01:00", "2026-11-30T23:00:00Z", None, BRUSSELS)
    assert instants == found


@pytest.mark.parametrize(
    ("start", "end", "month", "field"),
    [
        (None, None, None, "month"),
        ("2026-11-01", None, "2026-11", "month"),
        ("2026-11-01", None, None, "to"),
        (None, "2026-11-01", None, "from"),
        ("2026-11-31", "2026-12-01", None, "from"),
        ("yesterday", "2026-12-01", None, "from"),
        ("2026-11-01", "2026-11-02T00:00:00", None, "to"),
        ("2026-11-02", "2026-11-02", None, "to"),
        ("2026-11-02", "2026-11-01", None, "to"),
    ],
)
def test_what_is_no_period_is_named(
    start: str | None, end: str | None, month: str | None, field: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        period_of(start, end, month, BRUSSELS)
    assert refused.value.field == field


@pytest.mark.parametrize("place", range(8))
def test_market_foundhave_their_quarters(place: int) -> None:
    """92, 96 or 100: the change of summer time in Brussels, 2025 to 2027 (ENTSO-E market days)."""
    found = {
        "2025-09-30": 96,
        "2025-10-01": 96,
        "2025-10-26": 100,
        "2026-01-15": 96,
        "2026-03-29": 92,
        "2026-10-25": 100,
        "2027-03-28": 92,
        "2027-10-31": 100,
    }
    day, quarters = list(found.items())[place]
    after = (date.fromisoformat(day) + timedelta(days=1)).isoformat()
    period = period_of(day, after, None, BRUSSELS)
    edges = steps(period, BRUSSELS, 900)
    assert len(edges) - 1 == quarters
    assert {later - earlier for earlier, later in pairwise(edges)} == {timedelta(minutes=15)}


def test_steps_follow_the_local_clock_and_keep_odd_edges() -> None:
    kathmandu = ZoneInfo("Asia/Kathmandu")  # 5:45 ahead
    period = period_of("2026-11-01T10:17:00+05:45", "2026-11-01T12:05:00+05:45", None, kathmandu)
    local = [edge.astimezone(kathmandu).strftime("%H:%M") for edge in steps(period, kathmandu, 3600)]
    assert local == ["10:17", "11:00", "12:00", "12:05"]
    assert offset_s(period, kathmandu) == 20_700


def test_months_and_foundbegin_at_local_midnight() -> None:
    period = period_of("2026-10-24", "2026-12-02", None, BRUSSELS)
    assert [edge.isoformat() for edge in months(period, BRUSSELS)] == [
        "2026-10-31T23:00:00+00:00",
        "2026-11-30T23:00:00+00:00",
    ]
    first = list(days(period, BRUSSELS))[:2]
    assert [edge.hour for edge in first] == [22, 23], "the night between them has an hour more"
