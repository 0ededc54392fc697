"""What a station has shown that it can do, whatever its sheet says. It outlives cars and restarts.

`zero`: it takes an offer of 0 A, i.e. holds a car with its pilot off. Where it does not, a waiting car is
held at its minimum, and that is reserved for it.
`kept`: it still held its default after it had started anew. Where it did not, it counts in full.
"""

from dataclasses import dataclass, replace

REFUSALS = 2
"""Once may be chance."""


@dataclass(frozen=True, slots=True)
class Learned:
    """See the head of this file; None: not known yet. `refusals` of 0 A in a row."""

    zero: bool | None = None
    kept: bool | None = None
    refusals: int = 0

    def answered(self, current_a: float, accepted: bool) -> "Learned":
        """A live offer was taken or refused (not: unanswered)."""
        if current_a > 0:
            return self
        if accepted:
            return replace(self, zero=True, refusals=0)
        refusals = self.refusals + 1
        return replace(self, refusals=refusals, zero=False if refusals >= REFUSALS else self.zero)

    def read_back(self, limit_a: float | None, expected_a: float) -> "Learned":
        """After it has started anew it says it holds `limit_a` (None: it does not say)."""
        return self if limit_a is None else replace(self, kept=limit_a <= expected_a + 0.1)
