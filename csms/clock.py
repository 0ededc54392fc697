"""Time, the only place that reads it.

Everything else takes `now` as an argument or a `Clock` when it has to wait. The demo and
the simulation pass a clock that runs faster.
"""

import asyncio
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """A source of time. `now` is aware UTC; `monotonic` is in seconds and never jumps back."""

    def now(self) -> datetime: ...

    def monotonic(self) -> float: ...

    async def sleep(self, seconds: float) -> None: ...


class SystemClock:
    """The machine's clock."""

    def now(self) -> datetime:
        return datetime.now(UTC)

    def monotonic(self) -> float:
        return time.monotonic()

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(max(0.0, seconds))


class ScaledClock:
    """A clock that starts at `start` and runs `factor` times as fast as the machine's."""

    def __init__(self, start: datetime, factor: float) -> None:
        if factor <= 0:
            raise ValueError("factor must be positive")
        self._start = start
        self._factor = factor
        self._origin = time.monotonic()

    def now(self) -> datetime:
        return self._start + timedelta(seconds=self.monotonic())

    def monotonic(self) -> float:
        return (time.monotonic() - self._origin) * self._factor

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(max(0.0, seconds) / self._factor)


class ManualClock:
    """A clock that stands still until it is moved: for tests and for replays."""

    def __init__(self, start: datetime) -> None:
        self._now = start
        self._monotonic = 0.0
        self._sleepers: list[tuple[float, asyncio.Future[None]]] = []

    def now(self) -> datetime:
        return self._now

    def monotonic(self) -> float:
        return self._monotonic

    async def sleep(self, seconds: float) -> None:
        if seconds <= 0:
            await asyncio.sleep(0)
            return
        future: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._sleepers.append((self._monotonic + seconds, future))
        await future

    def advance(self, seconds: float) -> None:
        """Move on by `seconds` and wake whoever slept until then, in order of their hour."""
        self._monotonic += seconds
        self._now += timedelta(seconds=seconds)
        due = sorted((s for s in self._sleepers if s[0] <= self._monotonic), key=lambda s: s[0])
        self._sleepers = [s for s in self._sleepers if s[0] > self._monotonic]
        for _, future in due:
            if not future.done():
                future.set_result(None)
