"""Restrictions at an instant, and when the clock can switch them."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.errors import InvalidInput
from csms.tariffs.conditions import (
    NONE,
    WEEK,
    DayOfWeek,
    Moment,
    ReservationRestriction,
    Restrictions,
    clock_edges,
    describe,
    holds,
    unmet,
)

AMSTERDAM = ZoneInfo("Europe/Amsterdam")


NOON = "2024-01-15T12:00"


def moment(local: str = NOON, **state: float) -> Moment:
    values: dict[str, Any] = {"energy_wh": 0, "elapsed_s": 0, "current_a": 0, "power_w": 0, **state}
    return Moment(
        local=datetime.fromisoformat(local).replace(tzinfo=AMSTERDAM),
        **{name: Fraction(value) for name, value in values.items()},
    )


def test_no_restriction_always_holds() -> None:
    assert holds(NONE, moment())


@pytest.mark.parametrize(
    ("start", "end", "inside", "outside"),
    [
        ("08:00", "12:00", ["08:00", "11:59"], ["07:59", "12:00", "00:00"]),
        ("22:00", "06:00", ["22:00", "23:59", "00:00", "05:59"], ["06:00", "21:59"]),
        ("18:00", "00:00", ["18:00", "23:59"], ["17:59", "00:00"]),
        ("00:00", "00:00", ["00:00", "12:00", "23:59"], []),
        ("17:00", None, ["17:00", "23:59"], ["00:00", "16:59"]),
        (None, "17:00", ["00:00", "16:59"], ["17:00"]),
    ],
)
def test_window(start: str | None, end: str | None, inside: list[str], outside: list[str]) -> None:
    window = Restrictions(
        start_time=time.fromisoformat(start) if start else None,
        end_time=time.fromisoformat(end) if end else None,
    )
    assert all(holds(window, moment(f"2024-01-15T{clock}")) for clock in inside)
    assert not any(holds(window, moment(f"2024-01-15T{clock}")) for clock in outside)


def test_dates_and_days_are_local() -> None:
    dates = Restrictions(start_date=date(2024, 1, 15), end_date=date(2024, 1, 17))
    days = ["2024-01-14T23:59", "2024-01-15T00:00", "2024-01-16T23:59", "2024-01-17T00:00"]
    assert [holds(dates, moment(day)) for day in days] == [False, True, True, False]
    weekend = Restrictions(days=frozenset({DayOfWeek.SATURDAY, DayOfWeek.SUNDAY}))
    week = [f"2024-01-{15 + i}T12:00" for i in range(7)]  # 15 January 2024 was a Monday
    assert [holds(weekend, moment(day)) for day in week] == [False] * 5 + [True] * 2


@pytest.mark.parametrize(
    ("name", "state", "unit"),
    [
        ("energy_kwh", "energy_wh", 1000),
        ("duration_s", "elapsed_s", 1),
        ("current_a", "current_a", 1),
        ("power_kw", "power_w", 1000),
    ],
)
def test_bounds_are_inclusive_below_and_exclusive_above(name: str, state: str, unit: int) -> None:
    make: Callable[..., Restrictions] = Restrictions
    number: type[int] | type[Decimal] = int if name == "duration_s" else Decimal
    low, high = make(**{f"min_{name}": number(10)}), make(**{f"max_{name}": number(10)})
    for value, above in ((10 * unit - 0.5, False), (10 * unit, True), (10 * unit + 0.5, True)):
        assert holds(low, moment(NOON, **{state: value})) is above
        assert holds(high, moment(NOON, **{state: value})) is not above


def test_what_can_never_hold_is_refused() -> None:
    with pytest.raises(InvalidInput, match="end_time"):
        Restrictions(start_time=time(8), end_time=time(8))
    with pytest.raises(InvalidInput, match="max_kwh: must be above 5"):
        Restrictions(min_energy_kwh=Decimal(5), max_energy_kwh=Decimal(5))
    with pytest.raises(InvalidInput, match="end_date"):
        Restrictions(start_date=date(2024, 1, 2), end_date=date(2024, 1, 1))


def test_edges_only_where_a_clock_matters() -> None:
    start, end = datetime(2024, 1, 15, tzinfo=UTC), datetime(2024, 1, 20, tzinfo=UTC)
    assert clock_edges([NONE, Restrictions(max_duration_s=5)], start, end, AMSTERDAM) == []
    midnights = clock_edges([Restrictions(days=frozenset({DayOfWeek.MONDAY}))], start, end, AMSTERDAM)
    assert midnights == [datetime(2024, 1, day, 23, tzinfo=UTC) for day in range(15, 20)]


def test_edges_of_the_repeated_hour_come_twice() -> None:
    window = Restrictions(start_time=time(2, 30), end_time=time(2, 45))
    edges = clock_edges(
        [window], datetime(2024, 10, 27, 0, tzinfo=UTC), datetime(2024, 10, 27, 2, tzinfo=UTC), AMSTERDAM
    )
    at = [edge.strftime("%H:%M") for edge in edges]
    assert at == ["00:30", "00:45", "01:00", "01:30", "01:45"], "01:00 UTC is where summer time ends"


@settings(max_examples=60, deadline=None)
@given(
    st.datetimes(datetime.fromisoformat("2024-03-29"), datetime.fromisoformat("2024-04-02"))
    | st.datetimes(datetime.fromisoformat("2024-10-25"), datetime.fromisoformat("2024-10-29")),
    st.times(),
    st.times(),
    st.sets(st.sampled_from(WEEK), max_size=3),
    st.sampled_from(["Europe/Amsterdam", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu"]),
)
def test_between_edges_the_clock_switches_nothing(
    start: datetime, opens: time, closes: time, days: set[DayOfWeek], zone_name: str
) -> None:
    """Asked every four minutes over 30 hours, days that change their clocks among them."""
    opens, closes = opens.replace(second=0, microsecond=0), closes.replace(second=0, microsecond=0)
    if opens == closes:
        closes = time(0, 0)
    window = Restrictions(start_time=opens, end_time=closes, days=frozenset(days))
    zone = ZoneInfo(zone_name)
    begin = start.replace(tzinfo=UTC)
    end = begin + timedelta(hours=30)
    edges = [begin, *clock_edges([window], begin, end, zone), end]

    def active(instant: datetime) -> bool:
        zero = Fraction(0)
        return holds(
            window,
            Moment(
                local=instant.astimezone(zone), energy_wh=zero, elapsed_s=zero, current_a=zero, power_w=zero
            ),
        )

    for minutes in range(0, 30 * 60, 4):
        instant = begin + timedelta(minutes=minutes)
        edge = max(e for e in edges if e <= instant)
        assert active(instant) == active(edge)


def test_in_words() -> None:
    assert describe(NONE) == ""
    full = Restrictions(
        start_time=time(17),
        end_time=time(0),
        start_date=date(2024, 1, 1),
        end_date=date(2024, 2, 1),
        min_energy_kwh=Decimal(1),
        max_energy_kwh=Decimal(2),
        max_duration_s=60,
        min_current_a=Decimal(32),
        max_power_kw=Decimal(11),
        days=frozenset({DayOfWeek.SUNDAY, DayOfWeek.MONDAY}),
        reservation=ReservationRestriction.RESERVATION,
    )
    assert describe(full) == (
        "from 17:00 to 24:00, from 2024-01-01, before 2024-02-01, on MONDAY, SUNDAY, from 1 kWh, "
        "below 2 kWh, below 60 s, from 32 A, below 11 kW, for a reservation"
    )
    expires = Restrictions(reservation=ReservationRestriction.RESERVATION_EXPIRES)
    assert describe(expires) == "for a reservation that expired"


def test_what_does_not_hold_is_told_apart() -> None:
    moment = Moment(
        local=datetime(2024, 1, 15, 12, 0),  # noqa: DTZ001 - a wall clock
        energy_wh=Fraction(5000),
        elapsed_s=Fraction(60),
        current_a=Fraction(16),
        power_w=Fraction(3680),
    )
    restrictions = Restrictions(
        start_time=time(17), max_energy_kwh=Decimal(5), min_duration_s=60, days=frozenset({DayOfWeek.MONDAY})
    )
    assert unmet(restrictions, moment) == "from 17:00 to 24:00, below 5 kWh"
    assert unmet(Restrictions(min_duration_s=60), moment) == ""
