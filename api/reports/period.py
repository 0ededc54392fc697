"""Periods by a site's calendar: from local midnight to local midnight, and what they are cut into.

All arithmetic is in UTC, so that a day of 23 or 25 hours has as many.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput

_MONTH = re.compile(r"(2\d{3})-(0[1-9]|1[0-2])", re.ASCII)
_DAY = re.compile(r"2\d{3}-\d\d-\d\d", re.ASCII)
_INSTANT = re.compile(r"2\d{3}-\d\d-\d\d[Tt]\d\d:\d\d(:\d\d)?(\.\d{1,6})?([Zz]|[+-]\d\d:\d\d)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Period:
    """From `start` inclusive to `end` exclusive, aware UTC."""

    start: datetime
    end: datetime


def month_of(month: str, zone: ZoneInfo) -> Period:
    """The calendar month `2026-11` in `zone`, an hour longer or shorter where summer time changes."""
    found = _MONTH.fullmatch(month)
    if found is None:
        raise InvalidInput("month", f"must be a year and a month such as 2026-11, is {month!r}")
    year, number = int(found[1]), int(found[2])
    after = (year, number + 1) if number < 12 else (year + 1, 1)
    start, end = (_midnight(date(y, m, 1), zone) for y, m in ((year, number), after))
    return Period(start, end)


def period_of(start: str | None, end: str | None, month: str | None, zone: ZoneInfo) -> Period:
    """A month, or from `start` to before `end`: days (local midnight) or instants with their zone.

    Raises InvalidInput (`month`, `from`, `to`).
    """
    if month is not None:
        if start is not None or end is not None:
            raise InvalidInput("month", "give a month, or from and to, not both")
        return month_of(month, zone)
    if start is None and end is None:
        raise InvalidInput("month", "give a month such as 2026-11, or from and to")
    first, last = (_moment(name, text, zone) for name, text in (("from", start), ("to", end)))
    if last <= first:
        raise InvalidInput("to", "must be after from; it is the first moment that does not count")
    return Period(first, last)


def months(period: Period, zone: ZoneInfo) -> Iterator[datetime]:
    """The local midnights at which a month begins inside the period, its own start left out."""
    local = period.start.astimezone(zone).date()
    year, month = local.year, local.month
    while True:
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        at = _midnight(date(year, month, 1), zone)
        if at >= period.end:
            return
        if at > period.start:
            yield at


def days(period: Period, zone: ZoneInfo) -> Iterator[datetime]:
    """The local midnights inside the period, its own start left out."""
    day = period.start.astimezone(zone).date()
    while True:
        day += timedelta(days=1)
        at = _midnight(day, zone)
        if at >= period.end:
            return
        if at > period.start:
            yield at


def steps(period: Period, zone: ZoneInfo, step_s: int) -> list[datetime]:
    """Edges of the period's intervals of `step_s` seconds, aligned to the local clock: the period's
    start, every full step within, and its end."""
    shift_s = offset_s(period, zone) % step_s
    start, end = period.start.timestamp(), period.end.timestamp()
    first = (int(start + shift_s) // step_s + 1) * step_s - shift_s
    inside = [datetime.fromtimestamp(at, UTC) for at in range(first, _ceil(end), step_s) if at < end]
    return [period.start, *inside, period.end]


def offset_s(period: Period, zone: ZoneInfo) -> int:
    """How far the local clock is ahead of UTC at the start; within a period it changes by whole hours."""
    offset = period.start.astimezone(zone).utcoffset()
    return 0 if offset is None else int(offset.total_seconds())


def _moment(name: str, text: str | None, zone: ZoneInfo) -> datetime:
    if text is None:
        raise InvalidInput(name, "is missing: give a day such as 2026-11-01")
    try:
        if _DAY.fullmatch(text):
            return _midnight(date.fromisoformat(text), zone)
        if _INSTANT.fullmatch(text):
            return datetime.fromisoformat(text.upper()).astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    raise InvalidInput(
        name, f"must be a day such as 2026-11-01 or an instant with its zone, is {text[:40]!r}"
    )


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)


def _ceil(value: float) -> int:
    whole = int(value)
    return whole if whole == value else whole + 1
