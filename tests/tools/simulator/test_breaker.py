"""Tripping points of IEC 60898-1 (table 7: conventional currents 1.13 and 1.45, 2.55, instantaneous
bands)."""

import math

import pytest

from tools.simulator.breaker import Breaker, Curve

HOUR_S = 3600


def trips_after(breaker: Breaker, current_a: float, limit_s: float, dt_s: float = 0.1) -> float | None:
    passed = 0.0
    while passed < limit_s:
        passed += dt_s
        if breaker.step(dt_s, current_a):
            return passed
    return None


@pytest.mark.parametrize(("rated_a", "conventional_s"), [(16, HOUR_S), (63, HOUR_S), (80, 2 * HOUR_S)])
@pytest.mark.parametrize("holds", [1.131, 1.2, 1.449])
def test_holds_1_13_and_then_trips_at_1_45(rated_a: float, conventional_s: float, holds: float) -> None:
    breaker = Breaker(rated_a=rated_a, holds=holds)
    assert trips_after(breaker, 1.13 * rated_a, conventional_s, dt_s=1) is None
    tripped = trips_after(breaker, 1.45 * rated_a, conventional_s, dt_s=1)
    assert tripped is not None
    assert tripped < conventional_s


@pytest.mark.parametrize(("rated_a", "longest_s"), [(16, 60), (32, 60), (40, 120), (63, 120)])
def test_2_55_times_takes_more_than_a_second_and_less_than_the_limit(
    rated_a: float, longest_s: float
) -> None:
    tripped = trips_after(Breaker(rated_a=rated_a), 2.55 * rated_a, longest_s)
    assert tripped is not None
    assert 1 < tripped < longest_s


@pytest.mark.parametrize(("curve", "not_at", "at"), [(Curve.B, 3, 5), (Curve.C, 5, 10), (Curve.D, 10, 20)])
def test_instantaneous_bands(curve: Curve, not_at: float, at: float) -> None:
    assert not Breaker(rated_a=16, curve=curve).step(0.1, not_at * 16)
    assert Breaker(rated_a=16, curve=curve).step(0.1, at * 16)


def test_how_long_it_holds_agrees_with_stepping() -> None:
    breaker = Breaker(rated_a=63)
    assert breaker.holds_for_s(63 * 1.2) == math.inf
    foretold = breaker.holds_for_s(63 * 1.6)
    assert trips_after(breaker, 63 * 1.6, 600, dt_s=0.01) == pytest.approx(foretold, abs=0.02)
    assert breaker.tripped
    assert breaker.step(10, 0)
    assert breaker.holds_for_s(1) == 0


def test_a_short_overload_and_a_rest_do_not_trip() -> None:
    breaker = Breaker(rated_a=63)
    for _ in range(10):
        assert trips_after(breaker, 1.4 * 63, 10) is None
        assert trips_after(breaker, 0.5 * 63, 120) is None


def test_a_breaker_outside_the_standard_is_refused() -> None:
    with pytest.raises(ValueError, match="holds"):
        Breaker(rated_a=16, holds=1.5)
    with pytest.raises(ValueError, match="rated_a"):
        Breaker(rated_a=0)
