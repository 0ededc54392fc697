"""Clocks: the standing one wakes sleepers in order, the scaled one runs faster."""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest

from csms.clock import ManualClock, ScaledClock, SystemClock

START = datetime(2026, 11, 2, tzinfo=UTC)


async def test_manual_clock_wakes_sleepers_in_order_of_their_hour() -> None:
    clock = ManualClock(START)
    woken: list[str] = []

    async def sleeper(name: str, seconds: float) -> None:
        await clock.sleep(seconds)
        woken.append(name)

    tasks = [asyncio.ensure_future(sleeper("late", 20)), asyncio.ensure_future(sleeper("early", 10))]
    await asyncio.sleep(0)
    clock.advance(9)
    await asyncio.sleep(0)
    assert woken == []
    clock.advance(11)
    await asyncio.gather(*tasks)
    assert woken == ["early", "late"]
    assert clock.now() == START + timedelta(seconds=20)


def test_scaled_clock_runs_by_its_factor() -> None:
    clock = ScaledClock(START, 3600)
    first = clock.monotonic()
    second = clock.monotonic()
    assert second >= first
    assert clock.now() >= START
    with pytest.raises(ValueError, match="positive"):
        ScaledClock(START, 0)


async def test_scaled_clock_sleeps_shorter() -> None:
    clock = ScaledClock(START, 1000)
    before = clock.monotonic()
    await clock.sleep(10)
    assert clock.monotonic() - before >= 9.9


def test_system_clock_is_aware_utc() -> None:
    assert SystemClock().now().utcoffset() == timedelta(0)
