"""Real, accelerated and stepped time."""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest

from tools.simulator.clock import RunningClock, SteppedClock

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_two_clocks_of_one_origin_tell_the_same_accelerated_time() -> None:
    ticks = [100.0]
    clocks = [
        RunningClock(factor=30, origin=NOON, monotonic=lambda: ticks[0], started_at=100.0) for _ in range(2)
    ]
    ticks[0] = 110.0
    assert [clock.now() for clock in clocks] == [NOON + timedelta(seconds=300)] * 2
    assert [str(clocks[0]), str(RunningClock())] == ["accelerated time, 30 times as fast", "real time"]


def test_a_factor_must_be_positive() -> None:
    with pytest.raises(ValueError, match="factor"):
        RunningClock(factor=0)


async def test_sleepers_of_a_stepped_clock_wake_in_order_and_not_before() -> None:
    clock, woken = SteppedClock(NOON), []

    async def sleeper(seconds: float) -> None:
        await clock.sleep(seconds)
        woken.append(seconds)

    tasks = [asyncio.ensure_future(sleeper(seconds)) for seconds in (20, 5, 10)]
    await asyncio.sleep(0)
    clock.advance(4.9)
    await asyncio.sleep(0)
    assert woken == []
    clock.advance(6)
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    await asyncio.sleep(0)
    assert woken == [5, 10]
    clock.advance(10)
    await asyncio.gather(*tasks)
    assert woken == [5, 10, 20]
