"""The limits a station holds, light: one per purpose, each with the time at which it ends.

The same as `tools.simulator.profiles` makes of the profiles that the product sends (a test compares
them), without schedules: what leads is the transaction's limit, else the idle default, else the stored
fallback, else the station's own maximum.
"""

import math
from dataclasses import dataclass

from csms.power.steering.profile import Offer, Purpose


@dataclass(frozen=True, slots=True)
class Held:
    """A limit in A, until `ends_s`; `then_a` follows (None: what lies beneath); `transaction` only for
    that one."""

    current_a: float
    ends_s: float = math.inf
    transaction: str | None = None
    then_a: float | None = None


class Memory:
    """All limits of one station. `keeps` False: it forgets the defaults when it starts anew."""

    def __init__(self, max_current_a: float, *, keeps: bool = True) -> None:
        self._max_a = max_current_a
        self._keeps = keeps
        self._held: dict[Purpose, Held] = {}

    def take(self, offer: Offer, transaction: str | None) -> bool:
        """Hold the offer; False: it is for a transaction that does not run here."""
        live = offer.purpose is Purpose.LIVE
        if live and (transaction is None or offer.transaction not in (None, transaction)):
            return False
        ends_s = math.inf if offer.valid_s is None else offer.sent_s + offer.valid_s
        self._held[offer.purpose] = Held(offer.current_a, ends_s, transaction if live else None, offer.then_a)
        return True

    def transaction_over(self) -> None:
        self._held.pop(Purpose.LIVE, None)

    def reboot(self) -> None:
        self.transaction_over()
        if not self._keeps:
            self._held.clear()

    def limit_a(self, now_s: float) -> float:
        """The limit in force."""
        for purpose in (Purpose.LIVE, Purpose.IDLE, Purpose.FALLBACK):
            held = self._held.get(purpose)
            if held is not None and now_s < held.ends_s:
                return min(held.current_a, self._max_a)
            if held is not None and held.then_a is not None:
                return min(held.then_a, self._max_a)
        return self._max_a

    def next_end_s(self, now_s: float) -> float:
        """When a limit next ends."""
        return min((h.ends_s for h in self._held.values() if h.ends_s > now_s), default=math.inf)
