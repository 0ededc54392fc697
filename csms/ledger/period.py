"""The months that are billed: from local midnight to local midnight."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput

_MONTH = re.compile(r"(2\d{3})-(0[1-9]|1[0-2])", re.ASCII)


@dataclass(frozen=True, slots=True, order=True)
class Month:
    """A calendar month; ordered by time."""

    year: int
    month: int

    @classmethod
    def parse(cls, text: str, field: str = "period") -> "Month":
        """`2026-11`; InvalidInput names `field`."""
        found = _MONTH.fullmatch(text)
        if found is None:
            raise InvalidInput(field, f"must be a year and a month such as 2026-11, is {text!r}")
        return cls(int(found[1]), int(found[2]))

    @classmethod
    def of_day(cls, day: date) -> "Month":
        return cls(day.year, day.month)

    def __str__(self) -> str:
        return f"{self.year}-{self.month:02}"

    @property
    def first(self) -> date:
        return date(self.year, self.month, 1)

    @property
    def after(self) -> "Month":
        return Month(self.year + self.month // 12, self.month % 12 + 1)

    @property
    def days(self) -> int:
        return (self.after.first - self.first).days

    def bounds(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """First instant of the month and of the next one, UTC: an hour longer or shorter at summer time."""
        return midnight(self.first, zone), midnight(self.after.first, zone)


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """The first instant of a local day, UTC."""
    return datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)


def days_within(from_at: datetime | None, to_at: datetime | None, month: Month, zone: ZoneInfo) -> int:
    """Local days of the month that begin within [from_at, to_at)."""
    found = 0
    for n in range(month.days):
        begins = midnight(month.first + timedelta(days=n), zone)
        found += (from_at is None or from_at <= begins) and (to_at is None or begins < to_at)
    return found
