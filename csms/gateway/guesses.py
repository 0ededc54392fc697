"""How often somebody may be wrong at the door. Pure.

Counted are wrong keys, by address and identity together, so that nobody can shut out a station from
elsewhere, and by address alone, with much more room, since a whole garage may share one address.
"""

from collections import OrderedDict

WINDOW_S = 600.0
FOR_ONE = 10
FROM_ONE_ADDRESS = 100
REMEMBERED = 10_000


class Guesses:
    """Times are in seconds of a clock that never jumps back."""

    def __init__(self) -> None:
        self._wrong: OrderedDict[tuple[str, str], list[float]] = OrderedDict()

    def blocked_s(self, address: str, identity: str, now_s: float) -> float:
        """How long it has to wait; 0 when it may try."""
        one = self._wait_s((address, identity), FOR_ONE, now_s)
        return max(one, self._wait_s((address, ""), FROM_ONE_ADDRESS, now_s))

    def wrong(self, address: str, identity: str, now_s: float) -> None:
        """A key was wrong."""
        for key in ((address, identity), (address, "")):
            times = self._recent(key, now_s)
            times.append(now_s)
            self._wrong[key] = times
            self._wrong.move_to_end(key)
        while len(self._wrong) > REMEMBERED:
            self._wrong.popitem(last=False)

    def right(self, address: str, identity: str) -> None:
        """A key was right: what was wrong before was a slip."""
        self._wrong.pop((address, identity), None)

    def _recent(self, key: tuple[str, str], now_s: float) -> list[float]:
        return [at_s for at_s in self._wrong.get(key, ()) if now_s - at_s < WINDOW_S]

    def _wait_s(self, key: tuple[str, str], most: int, now_s: float) -> float:
        times = self._recent(key, now_s)
        return times[-most] + WINDOW_S - now_s if len(times) >= most else 0.0
