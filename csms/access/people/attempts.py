"""Slows down whoever guesses passwords: a few failures per name, then a wait.

Kept in memory: a restart forgets, which a guesser cannot cause. The count is per name and not
per address, since a building's people share one address and a guesser has many.
"""

from collections import OrderedDict, deque
from datetime import datetime, timedelta


class Attempts:
    """At most `failures` of one name within `window`. Remembers the `names` used last."""

    def __init__(
        self, failures: int = 5, window: timedelta = timedelta(minutes=5), names: int = 10_000
    ) -> None:
        self._failures = failures
        self._window = window
        self._names = names
        self._of: OrderedDict[str, deque[datetime]] = OrderedDict()

    def take(self, name: str, now: datetime) -> bool:
        """Count an attempt before it is made; False when it may not be made now.

        Counting first keeps many attempts at one moment from all slipping through.
        """
        taken = self._of.setdefault(name, deque())
        self._of.move_to_end(name)
        while len(self._of) > self._names:
            self._of.popitem(last=False)
        while taken and now - taken[0] >= self._window:
            taken.popleft()
        if len(taken) >= self._failures:
            return False
        taken.append(now)
        return True

    def forget(self, name: str) -> None:
        """The attempt was good: start anew."""
        self._of.pop(name, None)

    def __len__(self) -> int:
        return len(self._of)
