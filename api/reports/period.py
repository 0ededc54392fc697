"""The months of a site: from local midnight to local midnight."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput

_MONTH = re.compile(r"(2\d{3})-(0[1-9]|1[0-2])", re.ASCII)


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
    start, end = (datetime(y, m, 1, tzinfo=zone).astimezone(UTC) for y, m in ((year, number), after))
    return Period(start, end)
