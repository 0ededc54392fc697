"""What numbers betray of a wrong unit: power times time beside the step of the register. Pure.

Energy told in kWh as Wh makes the ratio a thousand; current told in A as W makes it one 230th or one
690th, power in kW told as W a thousandth. The bounds are common practice: a real ratio stays near 1
over a quarter of an hour.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from csms.stations.model import Reading

NEEDED = 3
"""So many steps in a row must tell the same."""
SHORTEST_S, LONGEST_S = 60.0, 3600.0
FACTORS: tuple[tuple[str, float, float, float], ...] = (
    # What is wrong, the factor that mends it, the ratio that betrays it, and how many times larger or
    # smaller than that it may be: registers of whole kWh step unevenly.
    ("energy_factor", 1000.0, 1000.0, 1.6),
    ("power_factor", 1000.0, 1 / 1000, 1.2),
    ("power_factor", 690.0, 1 / 690, 1.2),
    ("power_factor", 230.0, 1 / 230, 1.2),
)


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to put right: a factor of `Quirk`, and the ratio that was seen."""

    name: str
    factor: float
    ratio: float


@dataclass(slots=True)
class Suspicion:
    """Of one EVSE of one station."""

    last: Reading | None = None
    seen: list[float] = field(default_factory=list)

    def look(self, readings: Iterable[Reading]) -> Proposal | None:
        """What readings in the order of their time betray, with those before."""
        for reading in readings:
            if reading.register_wh is None or reading.power_w is None:
                continue
            before, self.last = self.last, reading
            if before is None or (ratio := _ratio(before, reading)) is None:
                continue
            self.seen = [*self.seen[1 - NEEDED :], ratio]
            if (proposal := self._proposal()) is not None:
                return proposal
        return None

    def _proposal(self) -> Proposal | None:
        if len(self.seen) < NEEDED:
            return None
        for name, factor, betraying, near in FACTORS:
            if all(1 / near <= ratio / betraying <= near for ratio in self.seen):
                return Proposal(name, factor, sum(self.seen) / len(self.seen))
        return None


def _ratio(before: Reading, after: Reading) -> float | None:
    """Energy by power over energy by the register; None when that says nothing."""
    seconds = (after.at - before.at).total_seconds()
    if not SHORTEST_S <= seconds <= LONGEST_S:
        return None
    assert before.register_wh is not None
    assert after.register_wh is not None
    assert before.power_w is not None
    assert after.power_w is not None
    step_wh = after.register_wh - before.register_wh
    by_power_wh = (before.power_w + after.power_w) / 2 * seconds / 3600
    return by_power_wh / step_wh if step_wh > 0 and by_power_wh > 0 else None
