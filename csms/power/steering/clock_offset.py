"""How far a station's clock is from ours, by the times it puts on its readings.

Offers end at a time that the station's own clock tells, so an offer must be written in that time. One
reading says little: it may have waited on its way. Readings that all lag alike for a while say that the
clock does; a station that tells of its past catches up, and so does not look alike.
"""

from dataclasses import dataclass

SEEN = 5
SPAN_S = 40.0
SPREAD_S = 3.0
OFF_S = 5.0
"""Less is the way of a message."""


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """The last readings: when each arrived, and how much later that was than it says."""

    seen: tuple[tuple[float, float], ...] = ()

    def told(self, at_s: float, now_s: float) -> "ClockOffset":
        """A reading that says it was taken at `at_s` has arrived now."""
        kept = tuple((at, lag) for at, lag in self.seen if now_s - SPAN_S - 4 * 60 < at < now_s)
        if kept and now_s - kept[-1][0] < SPAN_S / SEEN:
            return self  # a burst is one sign, not many
        return ClockOffset((*kept, (now_s, now_s - at_s))[-SEEN:])

    @property
    def off_s(self) -> float:
        """Our time less the station's, in seconds; 0 while nothing is sure or it is near enough."""
        if len(self.seen) < SEEN or self.seen[-1][0] - self.seen[0][0] < SPAN_S * (SEEN - 1) / SEEN:
            return 0.0
        lags = [lag for _, lag in self.seen]
        least = min(lags)
        return least if max(lags) - least <= SPREAD_S and abs(least) >= OFF_S else 0.0
