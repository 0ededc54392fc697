"""What a car really takes of its offer: current it leaves unused, and lines it does not use."""

from dataclasses import dataclass, replace

from csms.power.sharing.rounding import up
from csms.stations.model import PerLine
from csms.units import LOWEST_CURRENT_A

UNUSED_AFTER_S = 30.0
NOT_DRAWING_AFTER_S = 120.0
"""Onboard chargers take 10 to 60 s to start (common practice): nothing drawn says little before that."""
MARGIN_A = 1.0
PROBE_EVERY_S = 300.0
PROBE_BY_A = 4.0
SETTLED_S = 10.0
"""After a higher offer a car may still be on its way up."""
LINE_UNUSED_BELOW_A = 1.0
LINE_USED_ABOVE_A = 5.0


@dataclass(frozen=True, slots=True)
class Usage:
    """`want_a`: take no more than this for its demand (None: not known to be less than offered).

    `lines`: which of the station's own lines the car uses (None: all, until it is known).
    """

    want_a: float | None = None
    want_since_s: float = 0.0
    below_since_s: float | None = None
    lines: tuple[bool, ...] | None = None
    pattern: tuple[bool, ...] | None = None
    pattern_since_s: float = 0.0

    def observe(
        self, current_a: PerLine, wired: int, offer_a: float, offer_since_s: float, at_s: float, step_a: float
    ) -> "Usage":
        """Learn from a reading of the station's first `wired` lines, made under an offer since then."""
        values = current_a[:wired]
        known = [value for value in values if value is not None]
        if not known:
            return self
        learned = self._lines_from(values, at_s)
        highest = max(known)
        if offer_a < LOWEST_CURRENT_A or at_s < offer_since_s + SETTLED_S:
            return replace(learned, below_since_s=None)
        if highest >= offer_a - MARGIN_A:
            follows = self.want_a is not None and highest >= offer_a - 0.5 and offer_a >= self.want_a - 0.5
            if follows and self.want_a is not None:
                # It takes all it is given: what looked like its own maximum was not.
                return replace(
                    learned, below_since_s=None, want_a=self.want_a + PROBE_BY_A, want_since_s=at_s
                )
            return replace(learned, below_since_s=None)
        since = at_s if self.below_since_s is None else self.below_since_s
        needed = UNUSED_AFTER_S if highest >= LINE_UNUSED_BELOW_A else NOT_DRAWING_AFTER_S
        if at_s - since < needed:
            return replace(learned, below_since_s=since)
        want = max(LOWEST_CURRENT_A, up(highest + MARGIN_A, step_a))
        if self.want_a is not None and want >= self.want_a:
            return replace(learned, below_since_s=since)  # known already: the time of the next probe stays
        return replace(learned, below_since_s=since, want_a=want, want_since_s=at_s)

    def probe(self, now_s: float) -> "Usage":
        """Every few minutes let the car show whether it would take more by now."""
        if self.want_a is None or now_s - self.want_since_s < PROBE_EVERY_S:
            return self
        return replace(self, want_a=self.want_a + PROBE_BY_A, want_since_s=now_s, below_since_s=None)

    def _lines_from(self, values: tuple[float | None, ...], at_s: float) -> "Usage":
        # A line that was not reported may carry current: it counts as used.
        pattern = tuple(value is None or value > LINE_UNUSED_BELOW_A for value in values)
        if self.lines is not None and any(
            now and not before for now, before in zip(pattern, self.lines, strict=True)
        ):
            return replace(self, lines=None, pattern=pattern, pattern_since_s=at_s)
        if not any(value is not None and value > LINE_USED_ABOVE_A for value in values):
            return replace(self, pattern=None)
        if pattern != self.pattern:
            return replace(self, pattern=pattern, pattern_since_s=at_s)
        if at_s - self.pattern_since_s >= UNUSED_AFTER_S and not all(pattern):
            return replace(self, lines=pattern)
        return self
