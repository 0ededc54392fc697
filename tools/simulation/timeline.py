"""Virtual time: a queue of what happens when. Whoever looks at the next event moves the clock."""

import heapq
import itertools
from collections.abc import Callable
from datetime import UTC, datetime

Action = Callable[[], None]


class Timeline:
    """`csms.clock.Clock` whose time jumps from event to event; it never sleeps. Events of one instant happen
    in the order in which they were entered."""

    def __init__(self, now_s: float) -> None:
        self.now_s = now_s
        self._queue: list[tuple[float, int, Action]] = []
        self._numbers = itertools.count()

    def now(self) -> datetime:
        return datetime.fromtimestamp(self.now_s, UTC)

    def monotonic(self) -> float:
        return self.now_s

    async def sleep(self, seconds: float) -> None:
        raise AssertionError(f"nothing may sleep here, not even {seconds} s")

    def number(self) -> int:
        """A number that is given out once."""
        return next(self._numbers)

    def at(self, at_s: float, action: Action) -> None:
        """Enter an event; one in the past happens now."""
        heapq.heappush(self._queue, (max(at_s, self.now_s), self.number(), action))

    def after(self, seconds: float, action: Action) -> None:
        self.at(self.now_s + seconds, action)

    @property
    def next_s(self) -> float:
        """When the next event happens; infinite when there is none."""
        return self._queue[0][0] if self._queue else float("inf")

    def move(self, to_s: float) -> None:
        self.now_s = max(self.now_s, to_s)

    def take(self) -> Action:
        """Move to the next event and give it."""
        at_s, _, action = heapq.heappop(self._queue)
        self.move(at_s)
        return action
