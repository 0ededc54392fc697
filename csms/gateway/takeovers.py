"""Whether one identity is used by two stations: they take the socket from each other. Pure.

A station that comes back before its old socket is known to be dead takes over too, now and then and
from one address; two that are set up alike do it again and again, each from its own.
"""

from collections import OrderedDict

WINDOW_S = 600.0
MOST = 3
"""So many takeovers by another address than the one before, within the window, are too many."""
REMEMBERED = 1000


class Takeovers:
    """Times are monotonic seconds."""

    def __init__(self) -> None:
        self._seen: OrderedDict[str, list[tuple[float, str, str]]] = OrderedDict()

    def note(self, station_id: str, older: str, newer: str, now_s: float) -> tuple[str, ...]:
        """A socket from address `newer` took over from one of `older`: the addresses that use the identity
        in turn, when they do so too often; told once for each such row of takeovers."""
        if older == newer:
            return ()
        seen = [each for each in self._seen.get(station_id, ()) if now_s - each[0] < WINDOW_S]
        seen.append((now_s, older, newer))
        if len(seen) <= MOST:
            self._seen[station_id] = seen
            self._seen.move_to_end(station_id)
            if len(self._seen) > REMEMBERED:
                self._seen.popitem(last=False)
            return ()
        del self._seen[station_id]
        return tuple(sorted({address for _, *both in seen for address in both}))
