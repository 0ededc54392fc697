"""One profile over time. Vectors V1 to V3 as noted beside each."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from csms.stations.composite.timeline import changes, delayed, is_valid, offset_s, period_at
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose, RateUnit

T0 = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def profile(
    kind: ProfileKind = ProfileKind.ABSOLUTE,
    periods: tuple[tuple[int, float], ...] = ((0, 6.0), (60, 16.0)),
    start_at: datetime | None = T0,
    duration_s: int | None = None,
    valid: tuple[datetime | None, datetime | None] = (None, None),
    **more: object,
) -> ChargingProfile:
    return ChargingProfile(
        id=1,
        stack_level=0,
        purpose=ProfilePurpose.TX_DEFAULT,
        kind=kind,
        periods=tuple(ProfilePeriod(*each) for each in periods),
        start_at=start_at,
        duration_s=duration_s,
        valid_from=valid[0],
        valid_to=valid[1],
        **more,  # type: ignore[arg-type]
    )


def limit(
    one: ChargingProfile, at: datetime, anchor: datetime | None = None, zone: str = "UTC"
) -> float | None:
    period = period_at(one, at, anchor, ZoneInfo(zone))
    return None if period is None else period.limit


NIGHT = profile(
    ProfileKind.DAILY,
    ((0, 11000.0), (28800, 6000.0), (72000, 11000.0)),
    datetime(2013, 1, 1, tzinfo=UTC),
    86400,
    unit=RateUnit.WATT,
)


@pytest.mark.parametrize(
    ("clock", "watts"),
    [
        # V1: OCPP 1.6 edition 2, section 3.13.7.
        ((0, 0, 0), 11000),
        ((7, 59, 59), 11000),
        ((8, 0, 0), 6000),
        ((19, 59, 59), 6000),
        ((20, 0, 0), 11000),
    ],
)
@pytest.mark.parametrize("day", [datetime(2013, 1, 1, tzinfo=UTC), datetime(2026, 3, 29, tzinfo=UTC)])
def test_v1_a_daily_profile_repeats_every_day(
    day: datetime, clock: tuple[int, int, int], watts: float
) -> None:
    hour, minute, second = clock
    assert limit(NIGHT, day.replace(hour=hour, minute=minute, second=second)) == watts


WEEK_H = {day: [(0, 32.0), (6, 6.0), (23, 32.0)] for day in range(5)}
CALENDAR = profile(
    ProfileKind.WEEKLY,
    # V2: OCPP 1.6 edition 2, section 3.13.2: full power from Monday to Friday 23:00 to 06:00 and all of
    # Saturday and Sunday, less otherwise (the standard gives no limits; 32 A and 6 A are ours).
    (
        *((day * 86400 + hour * 3600, amps) for day, steps in WEEK_H.items() for hour, amps in steps),
        (5 * 86400, 32.0),
    ),
    datetime(2026, 1, 5, tzinfo=UTC),
    7 * 86400,
)


@pytest.mark.parametrize(
    ("at", "amps"),
    [
        ((2026, 3, 2, 5, 59, 59), 32),  # a Monday
        ((2026, 3, 2, 6, 0, 0), 6),
        ((2026, 3, 6, 22, 59, 59), 6),  # a Friday
        ((2026, 3, 6, 23, 0, 0), 32),
        ((2026, 3, 7, 12, 0, 0), 32),
        ((2026, 3, 8, 23, 59, 59), 32),
        ((2026, 3, 9, 6, 0, 0), 6),
    ],
)
def test_v2_a_weekly_profile(at: tuple[int, int, int, int, int, int], amps: float) -> None:
    assert limit(CALENDAR, datetime(*at, tzinfo=UTC)) == amps


@pytest.mark.parametrize(
    ("at", "amps"),
    [
        # Central Europe: 2026-03-29 01:00 UTC the clocks go forward, 2026-10-25 01:00 UTC back.
        (datetime(2026, 3, 28, 5, 30, tzinfo=UTC), 32),  # 06:30 by the winter's clock, a Saturday
        (datetime(2026, 3, 30, 3, 59, 59, tzinfo=UTC), 32),  # 05:59:59 by the summer's, a Monday
        (datetime(2026, 3, 30, 4, 0, tzinfo=UTC), 6),
        (datetime(2026, 10, 26, 4, 59, 59, tzinfo=UTC), 32),  # 05:59:59 by the winter's, a Monday
        (datetime(2026, 10, 26, 5, 0, tzinfo=UTC), 6),
    ],
)
def test_v2_by_the_local_clock_over_its_changes(at: datetime, amps: float) -> None:
    local = profile(
        ProfileKind.WEEKLY,
        tuple((period.start_s, period.limit) for period in CALENDAR.periods),
        datetime(2026, 1, 4, 23, tzinfo=UTC),  # Monday 00:00 in Brussels
        7 * 86400,
        local_time=True,
    )
    assert limit(local, at, zone="Europe/Brussels") == amps


def test_changes_by_the_local_clock_are_found_on_a_day_of_23_hours() -> None:
    local = profile(
        ProfileKind.DAILY,
        ((0, 32.0), (6 * 3600, 6.0)),
        datetime(2026, 1, 4, 23, tzinfo=UTC),
        local_time=True,
    )
    start = datetime(2026, 3, 28, 12, tzinfo=UTC)
    zone = ZoneInfo("Europe/Brussels")
    found = [
        at
        for at in changes(local, start, start + timedelta(days=1), None, zone)
        if period_at(local, at, None, zone) != period_at(local, at - timedelta(seconds=1), None, zone)
    ]
    # Midnight is 23:00 UTC, six o'clock is 04:00 UTC: five hours between them, not six.
    assert found == [datetime(2026, 3, 28, 23, tzinfo=UTC), datetime(2026, 3, 29, 4, tzinfo=UTC)]


def test_v3_delays_that_a_station_draws() -> None:
    # OCPP 2.1 errata 2025-09, section 2.21 (K01.FR.97).
    periods = [ProfilePeriod(*each) for each in ((0, 0.0), (300, 1.0), (600, 2.0), (900, 3.0))]
    found = [(period.start_s, period.limit) for period in delayed(periods, (753, 123, 87))]
    assert found == [(0, 0.0), (723, 2.0), (987, 3.0)]
    assert [period.start_s for period in delayed(periods, (753, 123, 87), 987)] == [0, 723]


def test_absolute_relative_and_dynamic() -> None:
    assert limit(profile(), T0 - timedelta(seconds=1)) is None
    assert limit(profile(), T0 + timedelta(seconds=59)) == 6
    assert limit(profile(duration_s=90), T0 + timedelta(seconds=89)) == 16
    assert limit(profile(duration_s=90), T0 + timedelta(seconds=90)) is None
    relative = profile(ProfileKind.RELATIVE, start_at=None)
    assert limit(relative, T0, anchor=T0 - timedelta(minutes=5)) == 16
    assert limit(relative, T0, anchor=None) is None
    # OCPP 2.1, K28.FR.13 and 14: a dynamic profile with a duration ends unless it is updated in time.
    dynamic = profile(ProfileKind.DYNAMIC, ((0, 16.0),), None, 120, updated_at=T0)
    assert limit(dynamic, T0 + timedelta(seconds=119)) == 16
    assert limit(dynamic, T0 + timedelta(seconds=120)) is None
    assert limit(profile(ProfileKind.DYNAMIC, ((0, 16.0),), None), T0) == 16


def test_a_recurring_profile_that_is_shorter_than_its_day_leaves_the_rest() -> None:
    short = profile(ProfileKind.DAILY, duration_s=3600)
    assert limit(short, T0 + timedelta(days=3, minutes=59)) == 16
    assert limit(short, T0 + timedelta(days=3, hours=1)) is None


def test_validity_holds_its_beginning_and_not_its_end() -> None:
    late = profile(valid=(T0 + timedelta(seconds=10), T0 + timedelta(seconds=20)))
    assert [is_valid(late, T0 + timedelta(seconds=second)) for second in (9, 10, 19, 20)] == [
        False,
        True,
        True,
        False,
    ]
    assert list(changes(late, T0, T0 + timedelta(minutes=5), None)) == [
        T0 + timedelta(seconds=10),
        T0 + timedelta(seconds=20),
        T0 + timedelta(seconds=60),
    ]
    assert offset_s(late, T0 + timedelta(seconds=5), None) == 5.0
