"""How fast one station may talk: a token bucket. Pure.

What comes faster is not lost: we stop reading, the socket's buffers fill, and the station waits.
"""


class Bucket:
    """`per_s` messages a second in the long run, `burst` at once. Times are monotonic seconds."""

    def __init__(self, per_s: float, burst: int, now_s: float) -> None:
        self._per_s = per_s
        self._burst = float(burst)
        self._left = float(burst)
        self._at_s = now_s

    def take(self, now_s: float) -> float:
        """One message has come: how long to wait, in seconds, before the next one is read."""
        self._left = min(self._burst, self._left + (now_s - self._at_s) * self._per_s) - 1
        self._at_s = now_s
        return max(0.0, -self._left / self._per_s)
