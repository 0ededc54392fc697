"""A station that gives less than it was told to: hot, as a rule.

Seen from here when the station itself reports a lower current than our offer, or when it is hot and the
car draws less than offered on all lines. Then its own maximum is lower for now, the rest is for others,
and every ten minutes it may show whether it gives more again. It stays with the station, not with the car.
"""

from dataclasses import dataclass, replace

from csms.power.sharing.rounding import down
from csms.units import LOWEST_CURRENT_A

SEEN_FOR_S = 30.0
SETTLED_S = 10.0
PROBE_EVERY_S = 600.0
HOT_C = 65.0
"""Inside a station: judgement; makers begin to reduce at 60 to 70 °C (common practice)."""
LESS_A = 1.0


@dataclass(frozen=True, slots=True)
class Derating:
    """`max_a`: what the station gives at most for now, since `since_s`; None: what it is built for."""

    max_a: float | None = None
    since_s: float = 0.0
    below_since_s: float | None = None

    def observe(
        self,
        *,
        offer_a: float,
        offer_since_s: float,
        drawn_a: float,
        station_a: float | None,
        temperature_c: float | None,
        at_s: float,
        step_a: float,
    ) -> "Derating":
        """A reading under an offer made at `offer_since_s`. `drawn_a`: of the highest line. `station_a`:
        what the station says it offers the car."""
        gives = self._gives(offer_a, drawn_a, station_a, temperature_c)
        if gives is None or at_s < offer_since_s + SETTLED_S:
            return replace(self, below_since_s=None)
        since = at_s if self.below_since_s is None else self.below_since_s
        if at_s - since < SEEN_FOR_S:
            return replace(self, below_since_s=since)
        return Derating(max(LOWEST_CURRENT_A, down(gives, step_a)), at_s)

    def _gives(
        self, offer_a: float, drawn_a: float, station_a: float | None, temperature_c: float | None
    ) -> float | None:
        # A car that draws nothing says nothing about the station.
        if offer_a < LOWEST_CURRENT_A or drawn_a < LESS_A or drawn_a >= offer_a - LESS_A:
            return None
        if station_a is not None and LOWEST_CURRENT_A <= station_a < offer_a - LESS_A:
            return station_a
        if temperature_c is not None and temperature_c >= HOT_C:
            return drawn_a + LESS_A
        return None

    def probe(self, now_s: float) -> "Derating":
        """From time to time let the station show whether it gives more."""
        if self.max_a is None or now_s - self.since_s < PROBE_EVERY_S:
            return self
        return Derating()

    def next_s(self) -> float | None:
        """When it may show it."""
        return None if self.max_a is None else self.since_s + PROBE_EVERY_S
