"""What a station has shown that it can do, whatever its sheet says. It outlives cars and restarts.

`zero`: it takes an offer of 0 A, i.e. holds a car with its pilot off. Where it does not, a waiting car is
held at its minimum, and that is reserved for it.
`kept`: it still held its default after it had started anew. Where it did not, it counts in full.
`chooses`: it says that it can put a car on the line that we name, and was not seen to do otherwise; it is
asked each time it connects. `chose`: it was seen to do so.
`follows`: it takes an offer with the fallback after it. Where it does not, a car that charges is left with
the idle default when we are gone: 0 A until that ends too.
"""

from dataclasses import dataclass, replace

REFUSALS = 2
"""Once may be chance."""


@dataclass(frozen=True, slots=True)
class Learned:
    """See the head of this file; None: not known yet. `refusals` of 0 A in a row, `pairs` of two limits."""

    zero: bool | None = None
    kept: bool | None = None
    refusals: int = 0
    follows: bool | None = None
    pairs: int = 0
    chooses: bool | None = None
    chose: bool = False

    def answered(self, current_a: float, accepted: bool, *, follows: bool = False) -> "Learned":
        """A live offer, with a limit that `follows` it, was taken or refused (not: unanswered)."""
        learned = self._of_pairs(accepted, follows)
        if current_a > 0 or (follows and not accepted and learned.follows is not True):
            return learned  # not the 0 A, or who knows what it was
        if accepted:
            return replace(learned, zero=True, refusals=0)
        refusals = learned.refusals + 1
        return replace(learned, refusals=refusals, zero=False if refusals >= REFUSALS else learned.zero)

    def _of_pairs(self, accepted: bool, follows: bool) -> "Learned":
        if follows and accepted:
            return replace(self, follows=True, pairs=0)
        if follows and self.follows is None:
            pairs = self.pairs + 1
            return replace(self, pairs=pairs, follows=False if pairs >= REFUSALS else None)
        if not follows and not accepted and self.follows is False and self.pairs:
            return replace(self, follows=None, pairs=0)  # it was something else
        if not follows and accepted:
            return replace(self, pairs=0)
        return self

    def read_back(self, limit_a: float | None, expected_a: float) -> "Learned":
        """After it has started anew it says it holds `limit_a` (None: it does not say)."""
        return self if limit_a is None else replace(self, kept=limit_a <= expected_a + 0.1)
