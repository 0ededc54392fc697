"""Composite schedules against figures published with the protocol.

V1: OCPP 1.6 edition 2, section 3.13.7 (the worked example). V5: the Open Charge Alliance's 1.6 compliance
test TC_066 (2.0.1: TC_K_41), purposes, durations, levels and result as published, inner periods from
memory, recomputed. V6: the same, TC_072, the second profile's periods from memory.
"""

from datetime import UTC, datetime, timedelta

import pytest

from tools.simulator.profiles import Kind, Period, Profile, ProfileStore, Purpose, Running, Unit, to_amperes

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
RUNNING = Running(transaction_id="7", started_at=NOW)


def profile(
    number: int, purpose: Purpose, level: int, duration_s: int, *periods: tuple[int, float], evse_id: int = 1
) -> Profile:
    return Profile(
        id=number,
        purpose=purpose,
        stack_level=level,
        kind=Kind.ABSOLUTE,
        unit=Unit.A,
        periods=tuple(Period(start, limit) for start, limit in periods),
        evse_id=evse_id,
        starts_at=NOW,
        duration_s=duration_s,
        transaction_id="7" if purpose is Purpose.TX else None,
    )


def store(*profiles: Profile) -> ProfileStore:
    made = ProfileStore()
    for each in profiles:
        made.install(each, by_level=True)
    return made


def composite(made: ProfileStore, seconds: int) -> list[tuple[int, float]]:
    periods = made.composite(1, NOW, seconds, Unit.A, RUNNING, unlimited_a=32)
    return [(period.start_s, period.limit) for period in periods]


V1 = Profile(
    id=100,
    purpose=Purpose.TX_DEFAULT,
    stack_level=0,
    kind=Kind.RECURRING,
    unit=Unit.W,
    periods=(Period(0, 11000), Period(28800, 6000), Period(72000, 11000)),
    starts_at=datetime(2013, 1, 1, tzinfo=UTC),
    duration_s=86400,
    recurs=timedelta(days=1),
)


@pytest.mark.parametrize(
    ("clock", "power_w"),
    [("00:00:00", 11000), ("07:59:59", 11000), ("08:00:00", 6000), ("19:59:59", 6000), ("20:00:00", 11000)],
)
def test_v1_recurring_daily_default(clock: str, power_w: float) -> None:
    at = datetime.fromisoformat(f"2026-11-25T{clock}+00:00")
    limit = store(V1).limit(1, at, RUNNING)
    assert limit is not None
    assert limit.current_a * 230 * 3 == pytest.approx(power_w)


def test_v1_over_two_days() -> None:
    midnight = datetime(2026, 11, 25, tzinfo=UTC)
    periods = store(V1).composite(1, midnight, 2 * 86400, Unit.W, RUNNING, unlimited_a=32)
    assert [(p.start_s, p.limit) for p in periods] == [
        (0, 11000),
        (28800, 6000),
        (72000, 11000),
        (86400 + 28800, 6000),
        (86400 + 72000, 11000),
    ]


def test_v5_purposes_combined() -> None:
    made = store(
        profile(1, Purpose.STATION_MAX, 0, 86400, (0, 10), evse_id=0),
        profile(2, Purpose.TX_DEFAULT, 0, 300, (0, 6), (60, 10), (120, 8), (180, 25), (260, 8)),
        profile(3, Purpose.TX, 0, 260, (0, 8), (50, 11), (140, 16), (200, 6), (240, 12)),
    )
    assert composite(made, 400) == [(0, 8), (50, 10), (200, 6), (240, 10), (260, 8), (300, 10)]


def test_v6_stacking() -> None:
    made = store(
        profile(1, Purpose.TX_DEFAULT, 0, 400, (0, 6), (100, 8), (200, 10)),
        profile(2, Purpose.TX_DEFAULT, 1, 150, (0, 7), (100, 9)),
    )
    assert composite(made, 350) == [(0, 7), (100, 9), (150, 8), (200, 10)]


@pytest.mark.parametrize(
    ("power_w", "phases", "current_a"),
    [(22000, 3, 31.884), (22000, 2, 47.826), (22000, 1, 95.652), (11000, 3, 15.942), (3680, 1, 16.0)],
)
def test_v7_watts_to_amperes(power_w: float, phases: int, current_a: float) -> None:
    """OCPP 2.0.1 K01.FR.50; OCPP 1.6 section 7.12."""
    assert to_amperes(power_w, Unit.W, phases) == pytest.approx(current_a, abs=5e-4)


def test_clearing_as_errata_3_25_and_3_26_say() -> None:
    def three() -> ProfileStore:
        return store(
            profile(1, Purpose.TX_DEFAULT, 0, 60, (0, 6)),
            profile(2, Purpose.TX_DEFAULT, 1, 60, (0, 6)),
            profile(3, Purpose.STATION_MAX, 0, 60, (0, 6), evse_id=0),
        )

    assert three().clear() == 3
    assert three().clear(evse_id=1) == 2
    assert three().clear(purpose=Purpose.TX_DEFAULT, stack_level=1) == 1
    assert three().clear(profile_id=3, evse_id=1) == 1
    assert three().clear(profile_id=9) == 0


def test_an_offer_that_ends_by_itself_lets_the_stored_default_come_back() -> None:
    """A profile that is valid for two minutes, above a default without end: the dead man of a station."""
    fallback = Profile(
        id=1,
        purpose=Purpose.TX_DEFAULT,
        stack_level=0,
        kind=Kind.RELATIVE,
        unit=Unit.A,
        periods=(Period(0, 6),),
    )
    live = Profile(
        id=2,
        purpose=Purpose.TX,
        stack_level=5,
        kind=Kind.RELATIVE,
        unit=Unit.A,
        periods=(Period(0, 20),),
        evse_id=1,
        valid_to=NOW + timedelta(seconds=120),
    )
    assert composite(store(fallback, live), 600) == [(0, 20), (120, 6)]


def test_a_profile_for_one_evse_overrules_that_for_all_and_replaces_its_own_level() -> None:
    made = store(
        profile(1, Purpose.TX_DEFAULT, 3, 600, (0, 10), evse_id=0),
        profile(2, Purpose.TX_DEFAULT, 0, 600, (0, 20)),
    )
    assert composite(made, 60) == [(0, 20)]
    made.install(profile(4, Purpose.TX_DEFAULT, 0, 600, (0, 18)), by_level=True)
    assert sorted(p.id for p in made) == [1, 4]
    made.install(profile(5, Purpose.TX, 0, 600, (0, 7)), by_level=True)
    made.reboot()
    assert sorted(p.id for p in made) == [1, 4]
    forgetful = ProfileStore(keeps=False)
    forgetful.install(profile(4, Purpose.TX_DEFAULT, 0, 600, (0, 18)), by_level=True)
    forgetful.reboot()
    assert len(forgetful) == 0
