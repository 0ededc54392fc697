"""Registers to energy: what meters do, and what is billed for it.

The behaviours are those that OCPP's public issue threads and its standard describe: registers
must be monotonic within a transaction and need not start at 0 (OCPP 1.6 edition 2, section
7.31), clock-aligned values carry the start of their interval (section 9.1.5). The thresholds are
common practice.
"""

import itertools
import random
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.metering.series import CurvePoint, Flag, Meter, Point, Source, curve, energy_at, in_order, measure

START = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
POWER_W = 22_080.0  # 3 x 32 A at 230 V


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def series(*registers_wh: int, start: bool = True, stop: int | None = None) -> list[Point]:
    """One value every five minutes, the first of them at the start."""
    points = [Point(at(5 * i), wh) for i, wh in enumerate(registers_wh)]
    if start:
        points[0] = Point(points[0].at, points[0].register_wh, Source.START)
    if stop is not None:
        points.append(Point(at(5 * len(points)), stop, Source.STOP))
    return points


def billed(points: list[Point]) -> Meter:
    return measure(points, max_power_w=POWER_W, started_at=START, ended_at=max(p.at for p in points))


def test_energy_is_stop_minus_start() -> None:
    meter = billed(series(120_000, 120_400, 121_000, stop=121_613))
    assert (meter.energy_wh, meter.flags) == (1613, frozenset())
    assert (meter.first_wh, meter.last_wh) == (120_000, 121_613)


def test_without_samples_the_two_registers_are_enough() -> None:
    meter = measure(
        [Point(at(0), 500, Source.START), Point(at(600), 41_500, Source.STOP)],
        max_power_w=POWER_W,
        started_at=at(0),
        ended_at=at(600),
    )
    assert (meter.energy_wh, meter.flags) == (41_000, frozenset())


def test_one_value_alone_is_no_energy() -> None:
    assert billed(series(120_000)).energy_wh == 0
    assert measure([], max_power_w=POWER_W) == Meter()


def test_a_reset_opens_a_segment_and_is_flagged() -> None:
    meter = billed(series(120_000, 121_000, 0, 800, 1_500, stop=2_000))
    assert meter.energy_wh == 1000 + 2000
    assert meter.flags == {Flag.REGISTER_RESET}


def test_a_single_nonsense_value_is_left_out() -> None:
    low = billed(series(120_000, 121_000, 0, 122_000, stop=122_500))
    assert (low.energy_wh, low.flags) == (2500, frozenset({Flag.IMPLAUSIBLE_VALUE}))
    high = billed(series(120_000, 121_000, 9_121_000, 122_000, stop=122_500))
    assert (high.energy_wh, high.flags) == (2500, frozenset({Flag.IMPLAUSIBLE_VALUE}))
    last = billed(series(120_000, 121_000, 9_121_000))
    assert (last.energy_wh, last.flags) == (1000, frozenset({Flag.IMPLAUSIBLE_VALUE}))


def test_a_placeholder_zero_before_the_lifetime_value_is_not_twelve_megawatt_hours() -> None:
    meter = billed(series(0, 12_000_000, 12_000_900, stop=12_001_500))
    assert (meter.energy_wh, meter.flags) == (1500, frozenset({Flag.PLACEHOLDER_ZERO}))
    assert meter.first_wh == 12_000_000


def test_a_register_that_starts_at_zero_is_no_placeholder() -> None:
    meter = billed(series(0, 700, 1_400, stop=2_100))
    assert (meter.energy_wh, meter.flags) == (2100, frozenset())


def test_a_jump_that_no_charger_could_make_opens_a_segment() -> None:
    meter = billed(series(120_000, 121_000, 500_000, 501_000, stop=501_800))
    assert (meter.energy_wh, meter.flags) == (1000 + 1800, frozenset({Flag.REGISTER_JUMP}))


def test_a_stop_a_little_below_the_samples_is_what_is_billed() -> None:
    meter = billed(series(120_000, 121_000, 122_000, stop=121_950))
    assert (meter.energy_wh, meter.flags) == (1950, frozenset({Flag.REGISTER_CONFLICT}))


def test_a_stop_below_the_samples_by_rounding_is_what_is_billed_and_nothing_odd() -> None:
    """The sample of 122,000.5 Wh became 122,001; the station cut off the decimals of its stop."""
    meter = billed(series(120_000, 121_000, 122_001, stop=122_000))
    assert (meter.energy_wh, meter.flags) == (2000, frozenset())
    repeated = [*series(120_000, 121_000, 122_000), Point(at(15), 121_950, Source.END_SAMPLE)]
    repeated.append(Point(at(15), 121_950, Source.STOP))
    assert billed(repeated).energy_wh == 1950


@pytest.mark.parametrize("stop", [0, 100, 119_999])
def test_a_stop_below_the_start_never_makes_the_energy_negative(stop: int) -> None:
    meter = billed(series(120_000, 121_000, 122_000, stop=stop))
    assert (meter.energy_wh, meter.flags) == (2000, frozenset({Flag.REGISTER_RESET}))
    bare = billed(series(120_000, stop=stop))
    assert bare.energy_wh == 0


def test_rounding_noise_is_nothing() -> None:
    meter = billed(series(120_000, 121_005, 121_000, stop=122_000))
    assert (meter.energy_wh, meter.flags) == (2000, frozenset())


def test_whole_kilowatt_hours_are_no_jumps() -> None:
    points = [Point(at(i / 6), 50_000 + 1000 * (i // 30), Source.SAMPLE) for i in range(91)]
    meter = measure(points, max_power_w=11_040)
    assert (meter.energy_wh, meter.flags) == (3000, frozenset())


def test_samples_from_before_and_after_do_not_count() -> None:
    points = [
        Point(at(-10), 119_000),
        Point(at(0), 120_000, Source.START),
        Point(at(5), 121_000),
        Point(at(10), 121_500, Source.STOP),
        Point(at(15), 125_000),
    ]
    assert measure(points, max_power_w=POWER_W, started_at=at(0), ended_at=at(10)).energy_wh == 1500


def test_a_closing_sample_stamped_after_the_stop_still_ranks_below_it() -> None:
    points = [*series(120_000, 121_000), Point(at(10), 121_600, Source.STOP)]
    points.append(Point(at(10.2), 121_580, Source.END_SAMPLE))
    meter = measure(points, max_power_w=POWER_W, started_at=START, ended_at=at(10))
    assert (meter.energy_wh, meter.flags) == (1600, frozenset())


registers = st.lists(
    st.one_of(st.integers(0, 300), st.integers(119_000, 140_000), st.integers(0, 10**9)),
    min_size=1,
    max_size=25,
)


@given(registers, st.booleans(), st.randoms(use_true_random=False))
def test_any_order_and_repeats_give_the_same_and_never_a_negative(
    registers_wh: list[int], stops: bool, shuffle: random.Random
) -> None:
    points = (
        series(*registers_wh[:-1], stop=registers_wh[-1])
        if stops and len(registers_wh) > 1
        else (series(*registers_wh))
    )
    expected = billed(points)
    assert expected.energy_wh >= 0
    mixed = [*points, *shuffle.choices(points, k=5)]
    shuffle.shuffle(mixed)
    assert billed(mixed) == expected


@given(registers)
def test_value_by_value_is_the_same_as_from_scratch(registers_wh: list[int]) -> None:
    points = series(*registers_wh)
    meter = Meter()
    for i, point in enumerate(points):
        meter = meter.step(point, POWER_W)
        assert meter == measure(points[: i + 1], max_power_w=POWER_W, started_at=START)


@given(registers)
def test_no_segment_outruns_the_charger(registers_wh: list[int]) -> None:
    meter = billed(series(*registers_wh))
    hours = 5 * (len(registers_wh) - 1) / 60
    assert meter.energy_wh <= POWER_W * hours * 1.2 + 1000 * len(registers_wh)


@given(registers)
def test_the_curve_rises_and_ends_at_what_is_billed(registers_wh: list[int]) -> None:
    points = series(*registers_wh)
    meter = billed(points)
    drawn = curve(points, max_power_w=POWER_W, started_at=START, ended_at=points[-1].at)
    energies = [point.energy_wh for point in drawn]
    assert energies == sorted(energies)
    assert energies[-1] == meter.energy_wh
    assert [point.at for point in drawn] == sorted(point.at for point in drawn)


def test_energy_between_readings_is_interpolated_and_adds_up() -> None:
    drawn = curve(
        series(120_000, 120_600, 121_200, stop=121_213),
        max_power_w=POWER_W,
        started_at=START,
        ended_at=at(15),
    )
    assert drawn[1] == CurvePoint(at(5), 120_600, 600)
    assert energy_at(drawn, at(-1)) == (0, False)
    assert energy_at(drawn, at(5)) == (600, False)
    assert energy_at(drawn, at(7)) == (840, True)
    assert energy_at(drawn, at(99)) == (1213, False)
    edges = [at(minute) for minute in range(16)]
    pieces = [energy_at(drawn, b)[0] - energy_at(drawn, a)[0] for a, b in itertools.pairwise(edges)]
    assert sum(pieces) == 1213


def test_points_come_in_order_once_each() -> None:
    stop = Point(at(0), 5, Source.STOP)
    start = Point(at(0), 9, Source.START)
    assert in_order([stop, start, stop, Point(at(0), 7)]) == [start, Point(at(0), 7), stop]
