"""One place to charge, with all that is known about it.

`Bay` joins how it is wired, what we were told (transaction, car, readings), what we promised, what its
car really uses, whose turn it is, and the pace of our own commands. Each method gives a new bay.
"""

from dataclasses import dataclass, field, replace

from csms.power.demand import Bound, Load, usual_connection
from csms.power.installation import Evse, Line, System, Wiring
from csms.power.profile import Purpose
from csms.power.promises import Outcome, Promise, StoredOffer, restored
from csms.power.usage import Usage
from csms.stations.model import NO_LINES, PerLine
from csms.units import LOWEST_CURRENT_A

MEASURED_FRESH_S = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A running transaction. `wants` False: the car is full or has stopped asking.

    `max_a`: the car's own maximum where it is known. `weight`, `priority`: see `Demand`.
    """

    transaction: str
    started_s: float
    wants: bool = True
    min_a: float = LOWEST_CURRENT_A
    max_a: float | None = None
    weight: float = 1.0
    priority: int = 0
    energy_wh: float = 0.0


@dataclass(frozen=True, slots=True)
class Turn:
    """Since when the car has been charging or waiting, in seconds; both None: neither."""

    running_since_s: float | None = None
    waiting_since_s: float | None = None


@dataclass(frozen=True, slots=True)
class Pace:
    """What our commands have to wait for.

    `changed_s`: the last change of the live offer. `room_since_s`, `room_a`: since when, and how much
    at least, the car could have had more. `refused_since_s`: since when it does not take a lowering;
    `refused_a`: the offer that it did not take. `tried`: when each purpose was last refused.
    """

    changed_s: float = float("-inf")
    room_since_s: float | None = None
    room_a: float = 0.0
    refused_since_s: float | None = None
    refused_a: float = 0.0
    stopped: bool = False
    tried: dict[Purpose, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """See the head of this file. `known`: heard of since this process started."""

    wiring: Wiring
    promise: Promise
    known: bool = False
    charge: Charge | None = None
    measured_a: PerLine = NO_LINES
    measured_s: float = float("-inf")
    usage: Usage = field(default_factory=Usage)
    turn: Turn = field(default_factory=Turn)
    pace: Pace = field(default_factory=Pace)
    target_a: float = 0.0
    why: Bound | None = None

    @property
    def evse(self) -> Evse:
        return self.wiring.evse

    @property
    def lines(self) -> tuple[Line, ...]:
        """The supply's lines that the car uses, as far as we know."""
        return self.wiring.supply_lines(self.usage.lines)

    def load(self, system: System, current_a: float) -> Load:
        """`current_a` in this bay, as a load of its circuit."""
        lines = self.lines
        if system.is_delta and len(lines) < 2:
            lines = self.wiring.rotation
        return Load(self.wiring.circuit, lines, usual_connection(system, lines), current_a)

    @property
    def obeys(self) -> bool:
        """Whether it may be given a new offer; else it counts with what it may be drawing."""
        return self.promise.reachable and self.pace.refused_since_s is None and not self.promise.overdraw_a

    def drawn_a(self, now_s: float) -> dict[Line, float]:
        """A per supply line that the car is known to draw at least: measured lately, and offered."""
        if self.charge is None or now_s - self.measured_s > MEASURED_FRESH_S:
            return {}
        offered = self.promise.offered(now_s)
        most = self.promise.holding(now_s) if offered is None else offered
        return {
            line: min(value, most)
            for line, value in zip(self.wiring.rotation, self.measured_a, strict=False)
            if value is not None
        }

    # What we are told

    def connected(self) -> "Bay":
        return replace(self, known=True, promise=self.promise.connected())

    def lost(self, now_s: float) -> "Bay":
        return replace(self, promise=self.promise.lost(now_s))

    def booted(self, now_s: float) -> "Bay":
        return replace(self, known=True, promise=self.promise.booted(now_s), pace=Pace())

    def started(self, charge: Charge, now_s: float) -> "Bay":
        """A transaction runs. Told again of the same one, only its facts are renewed."""
        if self.charge is not None and self.charge.transaction == charge.transaction:
            return replace(self, charge=replace(charge, started_s=self.charge.started_s))
        fresh = self.ended() if self.charge is not None else self
        return replace(fresh, charge=charge, turn=Turn(waiting_since_s=now_s))

    def ended(self) -> "Bay":
        return Bay(wiring=self.wiring, promise=self.promise.ended(), known=self.known)

    def wants(self, wants: bool) -> "Bay":
        if self.charge is None or self.charge.wants == wants:
            return self
        return replace(self, charge=replace(self.charge, wants=wants))

    def measured(self, current_a: PerLine, at_s: float, energy_wh: float | None = None) -> "Bay":
        """A reading of the station's own lines; an older one than the last, or of no charge, is dropped."""
        if self.charge is None or at_s < self.measured_s:
            return self
        charge = self.charge if energy_wh is None else replace(self.charge, energy_wh=energy_wh)
        known = [value for value in current_a if value is not None]
        if not known:
            return replace(self, charge=charge)
        offer_a = self.promise.offered(at_s) or 0.0
        usage = self.usage.observe(
            current_a, len(self.wiring.rotation), offer_a, self.pace.changed_s, at_s, self.wiring.step_a
        )
        return replace(
            self,
            charge=charge,
            measured_a=current_a,
            measured_s=at_s,
            usage=usage,
            promise=self.promise.measure(max(known), at_s),
        )

    def answered(self, offer_id: int, outcome: Outcome, now_s: float) -> "Bay":
        """What became of an offer. A lowering that did not come through makes the bay count as it was."""
        asked = next((ask for ask in self.promise.asks if ask.id == offer_id), None)
        if asked is None:
            return self
        promise = self.promise.answer(offer_id, outcome, now_s)
        pace = self.pace
        if outcome is not Outcome.ACCEPTED:
            pace = replace(pace, tried={**pace.tried, asked.purpose: now_s})
            if asked.purpose is Purpose.LIVE and promise.holding(now_s) > asked.current_a:
                since = now_s if pace.refused_since_s is None else pace.refused_since_s
                pace = replace(pace, refused_since_s=since, refused_a=asked.current_a)
        elif asked.purpose is Purpose.LIVE:
            pace = replace(pace, refused_since_s=None)
        return replace(self, promise=promise, pace=pace)


def new_bay(wiring: Wiring, found: StoredOffer | None = None) -> Bay:
    """A bay of which nothing has been heard yet; `found`: what was written down before a restart."""
    promise = Promise(
        rating_a=wiring.max_current_a, fallback_a=wiring.fallback_a, keeps=wiring.keeps_profiles
    )
    return Bay(wiring=wiring, promise=promise if found is None else restored(promise, found))
