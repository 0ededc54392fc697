"""All profiles together: the published vectors, and an independent reckoning second by second."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.stations.composite.combine import Running, Situation, composite
from csms.stations.composite.shelf import Held
from csms.stations.model import ChargingProfile, ProfileKind, ProfilePeriod, ProfilePurpose, RateUnit
from csms.units import floor_tenth

T0 = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
MAX, DEFAULT, TX = ProfilePurpose.STATION_MAX, ProfilePurpose.TX_DEFAULT, ProfilePurpose.TX
ONE = Situation((1,), {1: Running("tx", T0)})


def held(
    purpose: ProfilePurpose,
    *periods: tuple[int, float],
    evse: int | None = None,
    level: int = 0,
    unit: RateUnit = RateUnit.AMPERE,
    phases: int | None = None,
    kind: ProfileKind = ProfileKind.ABSOLUTE,
    start: datetime | None = T0,
    **more: Any,
) -> Held:
    """A profile at its usual place."""
    made = ChargingProfile(
        id=1,
        stack_level=level,
        purpose=purpose,
        kind=kind,
        periods=tuple(ProfilePeriod(second, limit, phases) for second, limit in periods),
        unit=unit,
        start_at=start,
        **more,
    )
    return Held((1 if purpose in (DEFAULT, TX) else 0) if evse is None else evse, made)


def steps(
    profiles: tuple[Held, ...],
    duration_s: int,
    unit: RateUnit = RateUnit.AMPERE,
    situation: Situation = ONE,
    evse: int = 1,
) -> list[tuple[int, float | None]]:
    found = composite(profiles, situation, evse, T0, duration_s, unit)
    return [(step.start_s, step.limit) for step in found.steps]


V5 = (
    held(MAX, (0, 10), duration_s=86400),
    held(DEFAULT, (0, 6), (60, 10), (120, 8), (180, 25), (260, 8), duration_s=300),
    held(TX, (0, 8), (50, 11), (140, 16), (200, 6), (240, 12), duration_s=260),
)
V5_STEPS = [(0, 8), (50, 10), (200, 6), (240, 10), (260, 8), (300, 10)]


def test_v5_purposes_combined() -> None:
    # OCA 1.6 compliance test TC_066, 2.0.1 TC_K_41 (inner periods from memory; the result fits).
    assert steps(V5, 400) == V5_STEPS


def test_v5_in_watts() -> None:
    in_watts = tuple(
        held(
            each.profile.purpose,
            *((period.start_s, period.limit * 1000) for period in each.profile.periods),
            unit=RateUnit.WATT,
            duration_s=each.profile.duration_s,
        )
        for each in V5
    )
    found = steps(in_watts, 400, RateUnit.WATT)
    assert [second for second, _ in found] == [second for second, _ in V5_STEPS]
    assert [watts for _, watts in found] == pytest.approx([limit * 1000 for _, limit in V5_STEPS])


def test_v6_stack_levels() -> None:
    # OCA 1.6 compliance test TC_072 (periods of the second from memory).
    profiles = (
        held(DEFAULT, (0, 6), (100, 8), (200, 10), duration_s=400),
        held(DEFAULT, (0, 7), (100, 9), duration_s=150, level=1),
    )
    assert steps(profiles, 350) == [(0, 7), (100, 9), (150, 8), (200, 10)]


@pytest.mark.parametrize(
    ("watts", "phases", "amps"),
    [
        # V7: K01.FR.50, W / (230 V x phases).
        (22000, 3, 31.884),
        (22000, 2, 47.826),
        (22000, 1, 95.652),
        (11000, 3, 15.942),
        (11000, 2, 23.913),
        (11000, 1, 47.826),
        (3680, 3, 5.333),
        (3680, 2, 8.0),
        (3680, 1, 16.0),
    ],
)
def test_v7_watts_and_amperes(watts: float, phases: int, amps: float) -> None:
    profiles = (held(DEFAULT, (0, watts), unit=RateUnit.WATT, phases=phases),)
    ((_, limit),) = steps(profiles, 10)
    assert limit == pytest.approx(amps, abs=0.0005)
    back = held(DEFAULT, (0, amps), phases=phases)
    ((_, told),) = steps((back,), 10, RateUnit.WATT)
    assert told == pytest.approx(watts, abs=0.5)


def test_v1_in_amperes_rounded_down() -> None:
    # OCPP 1.6 section 3.13.7 at 230 V: 15.9 and 8.6 A on three lines, 26.0 A for 6000 W on one.
    for watts, phases, amps in ((11000, 3, 15.9), (6000, 3, 8.6), (6000, 1, 26.0)):
        ((_, limit),) = steps((held(DEFAULT, (0, watts), unit=RateUnit.WATT, phases=phases),), 10)
        assert limit is not None
        assert floor_tenth(limit) == amps


def test_v4_the_fewest_phases_count() -> None:
    # OCPP 2.1 errata 2025-09, K01.FR.140.
    profiles = (held(MAX, (0, 20), phases=1), held(TX, (0, 16), phases=3))
    (step,) = composite(profiles, ONE, 1, T0, 10).steps
    assert (step.limit, step.phases) == (16, 1)


def test_v8_a_transactions_profile_is_for_its_transaction_only() -> None:
    # OCA TC_057, TC_058: a TxProfile belongs to the running transaction.
    default = held(DEFAULT, (0, 10))
    assert steps((default, held(TX, (0, 6), transaction_id="tx")), 10) == [(0, 6)]
    assert steps((default, held(TX, (0, 6), transaction_id="other")), 10) == [(0, 10)]
    assert steps((default, held(TX, (0, 6))), 10, situation=Situation((1,))) == [(0, 10)]


def test_a_default_of_an_evse_comes_before_that_of_all() -> None:
    # OCPP 1.6 section 3.13.1.
    everywhere = held(DEFAULT, (0, 16), evse=0, level=5)
    own = held(DEFAULT, (0, 10), duration_s=5)
    assert steps((everywhere, own), 10) == [(0, 10), (5, 16)]
    assert steps((everywhere, own), 10, evse=2, situation=Situation((1, 2))) == [(0, 16)]


def test_the_station_may_draw_what_its_evses_may_and_no_more_than_its_maximum() -> None:
    two = Situation((1, 2))
    profiles = (held(DEFAULT, (0, 16), evse=0), held(MAX, (0, 20)))
    assert steps(profiles, 10, situation=two, evse=0) == [(0, 20)]
    assert steps(profiles[:1], 10, situation=two, evse=0) == [(0, 32)]
    assert steps((held(MAX, (0, 20)), held(DEFAULT, (0, 6), evse=1)), 10, situation=two, evse=0) == [(0, 20)]
    assert steps((), 10, situation=two, evse=0) == [(0, None)]


def test_limits_of_lines() -> None:
    period = ProfilePeriod(0, 16.0, 3, None, 10.0, 8.0)
    own = held(TX)
    split = Held(
        1,
        ChargingProfile(
            id=2, stack_level=0, purpose=TX, kind=ProfileKind.ABSOLUTE, periods=(period,), start_at=T0
        ),
    )
    assert own.profile.periods == ()
    (step,) = composite((split, held(MAX, (0, 9.0))), ONE, 1, T0, 10).steps
    assert (step.limit, step.limit_l2, step.limit_l3) == (9.0, 9.0, 8.0)
    (watts,) = composite((split,), ONE, 1, T0, 10, RateUnit.WATT).steps
    assert watts.limit == pytest.approx(230 * (16 + 10 + 8))


def test_priority_and_local_generation() -> None:
    first = held(ProfilePurpose.PRIORITY, (0, 32), evse=1)
    slow, most = held(DEFAULT, (0, 6)), held(MAX, (0, 20))
    wanted = Situation((1,), {1: Running("tx", T0, priority=True)})
    assert steps((first, slow, most), 10) == [(0, 6)]
    assert steps((first, slow, most), 10, situation=wanted) == [(0, 20)]
    sun = held(ProfilePurpose.LOCAL_GENERATION, (0, 5))
    assert steps((first, slow, most, sun), 10, situation=wanted) == [(0, 25)]
    assert steps((slow, sun), 10) == [(0, 6)]


# ---- second by second, reckoned in another way -----------------------------------------

HORIZON = 300
PURPOSES = [
    MAX,
    ProfilePurpose.EXTERNAL,
    DEFAULT,
    TX,
    ProfilePurpose.PRIORITY,
    ProfilePurpose.LOCAL_GENERATION,
]


@st.composite
def any_held(draw: st.DrawFn) -> Held:
    purpose = draw(st.sampled_from(PURPOSES))
    kind = draw(
        st.sampled_from([ProfileKind.ABSOLUTE, ProfileKind.RELATIVE, ProfileKind.DAILY, ProfileKind.WEEKLY])
    )
    marks = draw(st.lists(st.integers(1, 200), max_size=3, unique=True))
    limits = st.integers(0, 32).map(float)
    start = T0 + timedelta(
        days=-draw(st.integers(0, 9)) if kind is not ProfileKind.ABSOLUTE else 0,
        seconds=draw(st.integers(-150, 150)),
    )
    edges = st.none() | st.integers(-50, 250).map(lambda second: T0 + timedelta(seconds=second))
    places = {MAX: [0], ProfilePurpose.LOCAL_GENERATION: [0], TX: [1, 2]}.get(purpose, [0, 1, 2])
    return held(
        purpose,
        *((mark, draw(limits)) for mark in [0, *sorted(marks)]),
        evse=draw(st.sampled_from(places)),
        level=draw(st.integers(0, 3)) * 100 + draw(st.integers(0, 99)),  # hardly ever a tie
        phases=draw(st.sampled_from([None, 1, 3])),
        unit=draw(st.sampled_from([RateUnit.AMPERE, RateUnit.WATT])),
        kind=kind,
        start=None if kind is ProfileKind.RELATIVE else start,
        duration_s=draw(st.none() | st.integers(1, 260)),
        valid_from=draw(edges),
        valid_to=draw(edges),
        transaction_id=draw(st.sampled_from([None, "tx1", "gone"])) if purpose is TX else None,
    )


@st.composite
def any_situation(draw: st.DrawFn) -> Situation:
    running = {
        evse: Running(f"tx{evse}", T0 - timedelta(seconds=draw(st.integers(-100, 200))), draw(st.booleans()))
        for evse in (1, 2)
        if draw(st.booleans())
    }
    return Situation((1, 2), running)


def told(each: Held, second: int, began: datetime | None) -> float | None:
    """Amperes that a profile allows at a second, looked up period by period."""
    one, at = each.profile, T0 + timedelta(seconds=second)
    if (one.valid_from and at < one.valid_from) or (one.valid_to and at >= one.valid_to):
        return None
    start = began if one.kind is ProfileKind.RELATIVE else one.start_at
    if start is None or at < start:
        return None
    length = {ProfileKind.DAILY: timedelta(days=1), ProfileKind.WEEKLY: timedelta(days=7)}.get(one.kind)
    while length is not None and start + length <= at:
        start += length
    if one.duration_s is not None and at >= start + timedelta(seconds=one.duration_s):
        return None
    found = None
    for period in one.periods:
        if start + timedelta(seconds=period.start_s) <= at:
            found = period
    if found is None:
        return None
    per_amp = 1 if one.unit is RateUnit.AMPERE else 230 * (found.phases or 3)
    return found.limit / per_amp


def top(
    shelf: list[Held], second: int, situation: Situation, place: int, purpose: ProfilePurpose, evse: int
) -> float | None:
    running = situation.running.get(evse)
    best: tuple[int, float] | None = None
    for each in shelf:
        if (each.evse, each.profile.purpose) != (place, purpose):
            continue
        if purpose is TX and (
            running is None or each.profile.transaction_id not in (None, running.transaction_id)
        ):
            continue
        amps = told(each, second, running.began_at if running else None)
        if amps is not None and (best is None or each.profile.stack_level > best[0]):
            best = (each.profile.stack_level, amps)
    return best[1] if best else None


def reckoned(shelf: list[Held], second: int, situation: Situation, evse: int) -> float | None:
    """The limit of an EVSE at a second, purpose by purpose."""
    running = situation.running.get(evse)
    order = [(evse, TX), (evse, DEFAULT), (0, DEFAULT)]
    if running is not None and running.priority:
        order = [(evse, ProfilePurpose.PRIORITY), (0, ProfilePurpose.PRIORITY), *order]
    own = next(
        (
            amps
            for place, purpose in order
            if (amps := top(shelf, second, situation, place, purpose, evse)) is not None
        ),
        None,
    )
    outer = [top(shelf, second, situation, 0, purpose, 0) for purpose in (MAX, ProfilePurpose.EXTERNAL)]
    station = [amps for amps in outer if amps is not None]
    sun = top(shelf, second, situation, 0, ProfilePurpose.LOCAL_GENERATION, 0)
    limits = [min(station) + (sun or 0.0)] if station else []
    limits += [
        amps
        for amps in (own, top(shelf, second, situation, evse, ProfilePurpose.EXTERNAL, evse))
        if amps is not None
    ]
    return min(limits) if limits else None


@settings(max_examples=60)
@given(st.lists(any_held(), max_size=7), any_situation(), st.sampled_from([1, 2]))
def test_every_second_is_as_reckoned_by_itself(shelf: list[Held], situation: Situation, evse: int) -> None:
    levels = [(each.evse, each.profile.purpose, each.profile.stack_level) for each in shelf]
    if len(set(levels)) < len(levels):
        return  # a station holds no two of one level, purpose and place
    found = composite(shelf, situation, evse, T0, HORIZON).steps
    assert found[0].start_s == 0
    for second in range(HORIZON):
        step = [each for each in found if each.start_s <= second][-1]
        expected = reckoned(shelf, second, situation, evse)
        assert step.limit == (None if expected is None else pytest.approx(expected, abs=1e-5)), second
