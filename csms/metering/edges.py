"""Instants at which energy and time are cut: a site's midnights, first days of months, a grid of minutes.

All are aware UTC and lie strictly between the two ends. Midnight is the first instant of the local
day, also where the clock skips 00:00.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def first_instant(day: date, zone: ZoneInfo) -> datetime:
    """When the local day begins, UTC."""
    return datetime.combine(day, time(0), zone).astimezone(UTC)


def midnights(start: datetime, end: datetime, zone: ZoneInfo) -> tuple[datetime, ...]:
    """The beginning of every local day between `start` and `end`."""
    return tuple(at for day in _days(start, end, zone) if start < (at := first_instant(day, zone)) < end)


def month_starts(start: datetime, end: datetime, zone: ZoneInfo) -> tuple[datetime, ...]:
    """The beginning of every local month between `start` and `end`."""
    firsts = (day for day in _days(start, end, zone) if day.day == 1)
    return tuple(at for day in firsts if start < (at := first_instant(day, zone)) < end)


def grid(start: datetime, end: datetime, minutes: int) -> tuple[datetime, ...]:
    """Every `minutes` by the clock of UTC, e.g. 15: all zones in use lie on the same quarters."""
    step = timedelta(minutes=minutes)
    origin = datetime(1970, 1, 1, tzinfo=UTC)
    at = origin + ((start - origin) // step + 1) * step
    found = []
    while at < end:
        found.append(at)
        at += step
    return tuple(found)


def _days(start: datetime, end: datetime, zone: ZoneInfo) -> Iterator[date]:
    day, last = start.astimezone(zone).date(), end.astimezone(zone).date()
    while day <= last:
        yield day
        day += timedelta(days=1)
