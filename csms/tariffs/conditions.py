"""Restrictions: when an element of a tariff is active (OCPI TariffRestrictions).

Everything is looked at again at every instant of the session: lower bounds are inclusive, upper
bounds exclusive. Clock, day and date are the site's own at that instant; an end_time of 00:00 is
the end of the day; a window whose end is before its start runs over midnight.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput

MIDNIGHT = time(0, 0)


class DayOfWeek(StrEnum):
    """In the order of `date.weekday()`."""

    MONDAY = "MONDAY"
    TUESDAY = "TUESDAY"
    WEDNESDAY = "WEDNESDAY"
    THURSDAY = "THURSDAY"
    FRIDAY = "FRIDAY"
    SATURDAY = "SATURDAY"
    SUNDAY = "SUNDAY"


WEEK = tuple(DayOfWeek)


class ReservationRestriction(StrEnum):
    RESERVATION = "RESERVATION"
    RESERVATION_EXPIRES = "RESERVATION_EXPIRES"


@dataclass(frozen=True, slots=True, kw_only=True)
class Restrictions:
    """All that are given must hold. Energy and duration count the session so far, current is the
    sum over the lines, power and current are those of the moment."""

    start_time: time | None = None
    end_time: time | None = None
    start_date: date | None = None
    end_date: date | None = None
    min_energy_kwh: Decimal | None = None
    max_energy_kwh: Decimal | None = None
    min_current_a: Decimal | None = None
    max_current_a: Decimal | None = None
    min_power_kw: Decimal | None = None
    max_power_kw: Decimal | None = None
    min_duration_s: int | None = None
    max_duration_s: int | None = None
    days: frozenset[DayOfWeek] = frozenset()
    reservation: ReservationRestriction | None = None

    def __post_init__(self) -> None:
        """Refuse what could never hold, or what has no defined meaning."""
        if self.start_time is not None and self.start_time == self.end_time != MIDNIGHT:
            raise InvalidInput("end_time", "is start_time too; leave both out for the whole day")
        bounds: tuple[tuple[str, date | Decimal | int | None, date | Decimal | int | None], ...] = (
            ("end_date", self.start_date, self.end_date),
            ("max_kwh", self.min_energy_kwh, self.max_energy_kwh),
            ("max_current", self.min_current_a, self.max_current_a),
            ("max_power", self.min_power_kw, self.max_power_kw),
            ("max_duration", self.min_duration_s, self.max_duration_s),
        )
        for name, low, high in bounds:
            if low is not None and high is not None and not low < high:  # type: ignore[operator]
                raise InvalidInput(
                    name, f"must be above {low}, where it begins, is {high}; nothing fits between"
                )

    @property
    def by_clock(self) -> bool:
        """Whether the wall clock or the calendar can switch it."""
        given = (self.start_time, self.end_time, self.start_date, self.end_date)
        return bool(self.days) or any(value is not None for value in given)

    @property
    def by_current(self) -> bool:
        return self.min_current_a is not None or self.max_current_a is not None


NONE = Restrictions()


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """The state at an instant: `local` is the site's wall clock, the rest counts from the start."""

    local: datetime
    energy_wh: Fraction
    elapsed_s: Fraction
    current_a: Fraction
    power_w: Fraction


def holds(restrictions: Restrictions, moment: Moment) -> bool:
    """Whether all restrictions but `reservation` hold at the moment."""
    r = restrictions
    return (
        _in_window(r, moment.local)
        and (r.start_date is None or moment.local.date() >= r.start_date)
        and (r.end_date is None or moment.local.date() < r.end_date)
        and (not r.days or WEEK[moment.local.weekday()] in r.days)
        and _within(moment.energy_wh, r.min_energy_kwh, r.max_energy_kwh, 1000)
        and _within(moment.elapsed_s, r.min_duration_s, r.max_duration_s)
        and _within(moment.current_a, r.min_current_a, r.max_current_a)
        and _within(moment.power_w, r.min_power_kw, r.max_power_kw, 1000)
    )


def _within(value: Fraction, low: Decimal | int | None, high: Decimal | int | None, scale: int = 1) -> bool:
    return (low is None or value >= Fraction(low) * scale) and (
        high is None or value < Fraction(high) * scale
    )


def _in_window(r: Restrictions, local: datetime) -> bool:
    now = local.time()
    start = r.start_time or MIDNIGHT
    end = r.end_time or MIDNIGHT
    if end == MIDNIGHT:
        return now >= start
    if start < end:
        return start <= now < end
    return now >= start or now < end


def clock_edges(
    restrictions: Iterable[Restrictions], start: datetime, end: datetime, zone: ZoneInfo
) -> list[datetime]:
    """Every instant strictly between `start` and `end` (aware UTC) at which the clock could switch one.

    Window edges and midnights of every local day, in both passes of an hour that the end of
    summer time repeats, and the change of offset itself. Some may switch nothing; none is missing.
    """
    clocked = [r for r in restrictions if r.by_clock]
    if not clocked:
        return []
    times = {t for r in clocked for t in (r.start_time, r.end_time, MIDNIGHT) if t is not None}
    found: set[datetime] = set()
    day = start.astimezone(zone).date()
    last = end.astimezone(zone).date()
    while day <= last:
        for clock in times:
            for fold in (0, 1):
                wall = datetime.combine(day, clock, zone).replace(fold=fold)
                found.add(wall.astimezone(UTC))
        day += timedelta(days=1)
    found.update(_offset_changes(start, end, zone))
    return sorted(instant for instant in found if start < instant < end)


def _offset_changes(start: datetime, end: datetime, zone: ZoneInfo) -> list[datetime]:
    changes = []
    low = start.astimezone(UTC)
    while low < end:
        high = min(low + timedelta(days=1), end.astimezone(UTC))
        if _offset(low, zone) != _offset(high, zone):
            changes.append(_first_with_offset_of(high, low, zone))
        low = high
    return changes


def _first_with_offset_of(high: datetime, low: datetime, zone: ZoneInfo) -> datetime:
    before, after = low, high
    while after - before > timedelta(microseconds=1):
        middle = before + (after - before) // 2
        if _offset(middle, zone) == _offset(high, zone):
            after = middle
        else:
            before = middle
    return after


def _offset(instant: datetime, zone: ZoneInfo) -> timedelta | None:
    return instant.astimezone(zone).utcoffset()


def describe(restrictions: Restrictions) -> str:
    """The restrictions in words, e.g. `from 17:00 to 20:00, on SATURDAY, from 10 kWh`; empty for none."""
    r = restrictions
    parts = []
    if r.start_time is not None or r.end_time is not None:
        end = r.end_time or MIDNIGHT
        to = "24:00" if end == MIDNIGHT else f"{end:%H:%M}"
        parts.append(f"from {r.start_time or MIDNIGHT:%H:%M} to {to}")
    if r.start_date is not None:
        parts.append(f"from {r.start_date.isoformat()}")
    if r.end_date is not None:
        parts.append(f"before {r.end_date.isoformat()}")
    if r.days:
        parts.append("on " + ", ".join(day for day in WEEK if day in r.days))
    for low, high, unit in (
        (r.min_energy_kwh, r.max_energy_kwh, "kWh"),
        (r.min_duration_s, r.max_duration_s, "s"),
        (r.min_current_a, r.max_current_a, "A"),
        (r.min_power_kw, r.max_power_kw, "kW"),
    ):
        if low is not None:
            parts.append(f"from {low} {unit}")
        if high is not None:
            parts.append(f"below {high} {unit}")
    if r.reservation is not None:
        expires = r.reservation is ReservationRestriction.RESERVATION_EXPIRES
        parts.append("for a reservation that expired" if expires else "for a reservation")
    return ", ".join(parts)


def unmet(restrictions: Restrictions, moment: Moment) -> str:
    """Those that do not hold at the moment, in words."""
    r = restrictions
    single = (
        Restrictions(start_time=r.start_time, end_time=r.end_time),
        Restrictions(start_date=r.start_date),
        Restrictions(end_date=r.end_date),
        Restrictions(days=r.days),
        Restrictions(min_energy_kwh=r.min_energy_kwh),
        Restrictions(max_energy_kwh=r.max_energy_kwh),
        Restrictions(min_duration_s=r.min_duration_s),
        Restrictions(max_duration_s=r.max_duration_s),
        Restrictions(min_current_a=r.min_current_a),
        Restrictions(max_current_a=r.max_current_a),
        Restrictions(min_power_kw=r.min_power_kw),
        Restrictions(max_power_kw=r.max_power_kw),
    )
    return ", ".join(describe(each) for each in single if not holds(each, moment))
