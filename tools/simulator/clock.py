"""The time a simulated station lives in: real, accelerated by a factor, or stepped by hand."""

import asyncio
import heapq
import itertools
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What stations and cars ask of time. Any clock with these two will do, also one that a server lives
    in."""

    def now(self) -> datetime:
        """The simulated time, aware, UTC."""

    async def sleep(self, seconds: float) -> None:
        """Return after so many simulated seconds."""


class RunningClock:
    """Runs by itself, `factor` times as fast as the wall clock, from `origin` on (default: now).

    Two clocks that are given the same origin, factor and monotonic reading tell the same time, so a server
    and the simulated stations can live in one accelerated time. Raises ValueError for a factor that is not
    positive.
    """

    def __init__(
        self,
        *,
        factor: float = 1.0,
        origin: datetime | None = None,
        monotonic: Callable[[], float] = time.monotonic,
        started_at: float | None = None,
    ) -> None:
        if not factor > 0:
            raise ValueError(
                f"factor: {factor} is not above 0; use 1 for real time, 30 for thirty times as fast"
            )
        self.factor = factor
        self.origin = origin if origin is not None else datetime.now(UTC)
        self._monotonic = monotonic
        self.started_at = monotonic() if started_at is None else started_at

    def now(self) -> datetime:
        return self.origin + timedelta(seconds=(self._monotonic() - self.started_at) * self.factor)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(max(0.0, seconds) / self.factor)

    def __str__(self) -> str:
        return "real time" if self.factor == 1 else f"accelerated time, {self.factor:g} times as fast"


class SteppedClock:
    """Stands still until `advance` is called; sleepers wake in the order of their time."""

    def __init__(self, origin: datetime) -> None:
        self._now = origin
        self._count = itertools.count()
        self._sleepers: list[tuple[datetime, int, asyncio.Event]] = []

    def now(self) -> datetime:
        return self._now

    async def sleep(self, seconds: float) -> None:
        event = asyncio.Event()
        heapq.heappush(
            self._sleepers, (self._now + timedelta(seconds=max(0.0, seconds)), next(self._count), event)
        )
        await event.wait()

    def advance(self, seconds: float) -> None:
        """Move on and wake who is due."""
        self._now += timedelta(seconds=seconds)
        while self._sleepers and self._sleepers[0][0] <= self._now:
            heapq.heappop(self._sleepers)[2].set()
