"""A yard of simulated stations that hold limits as real ones do, steered by the pure decision.

The stations keep their own truth: what they hold, when it lapses, what the car draws, and that a car
follows a lower limit only after up to 5 s. The messages between both sides can be late, lost or refused.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring
from csms.power.steering.base_load import BuildingMeter, BuildingReading
from csms.power.steering.bay import Charge
from csms.power.steering.decision import Step, step
from csms.power.steering.profile import Offer, Purpose
from csms.power.steering.promises import Outcome
from csms.power.steering.room import Room
from csms.power.steering.state import new_site

REACTION_S = 4.9


@dataclass
class RealStation:
    """One EVSE as it is: `lagging` are higher currents that the car has not left yet.

    `keeps` False: without its link it forgets all limits. `takes_zero` False: it refuses to hold a
    running transaction at 0 A; `takes_pairs` False: to hold a limit with another one after it.
    `ignores_a`: what the car draws at least, whatever it is offered. `live` has what follows it.
    """

    fallback_a: float
    rating_a: float = 32.0
    keeps: bool = True
    takes_zero: bool = True
    takes_pairs: bool = True
    ignores_a: float = 0.0
    idle: tuple[float, float] | None = None
    live: tuple[float, float, float | None] | None = None
    transaction: str | None = None
    linked: bool = True
    allowed_a: float = 0.0
    lagging: list[tuple[float, float]] = field(default_factory=list)

    def hold(self, offer: Offer, now_s: float) -> bool:
        """Take an offer; False where a station would refuse."""
        if offer.purpose is Purpose.FALLBACK:
            self.fallback_a = offer.current_a
            return True
        assert offer.valid_s is not None
        limit = (offer.current_a, offer.sent_s + offer.valid_s)
        if offer.purpose is Purpose.IDLE:
            self.idle = limit
            return True
        if self.transaction is None or self.transaction != offer.transaction:
            return False
        if offer.current_a == 0 and not self.takes_zero:
            return False
        if offer.then_a is not None and not self.takes_pairs:
            return False
        self.live = (*limit, offer.then_a)
        return True

    def unlink(self) -> None:
        """The link is gone."""
        self.linked = False
        if not self.keeps:
            self.live = self.idle = None
            self.fallback_a = self.rating_a

    def holds(self, now_s: float) -> float:
        """A that leads now."""
        if self.live is not None and now_s < self.live[1]:
            return self.live[0]
        if self.live is not None and self.live[2] is not None:
            return self.live[2]
        if self.idle is not None and now_s < self.idle[1]:
            return self.idle[0]
        return self.fallback_a

    def draw(self, now_s: float) -> float:
        """A drawn by a car that takes all it may."""
        if self.transaction is None:
            self.allowed_a, self.lagging = 0.0, []
            return 0.0
        allowed = self.holds(now_s)
        if allowed < self.allowed_a:
            self.lagging.append((self.allowed_a, now_s + REACTION_S))
        self.allowed_a = allowed
        self.lagging = [lag for lag in self.lagging if now_s < lag[1]]
        return max([allowed, self.ignores_a, *(lag[0] for lag in self.lagging)])


class Yard:
    """Bays on one circuit, lines as given; `odd`: what is different of some of them. Time stands still
    unless it is moved."""

    def __init__(
        self,
        bays: int = 2,
        limit_a: float = 32.0,
        *,
        fallback_a: float = 0.0,
        meter: BuildingMeter | None = None,
        base_a: float = 0.0,
        odd: Mapping[int, Mapping[str, Any]] | None = None,
        **wiring: Any,
    ) -> None:
        odd = odd or {}
        main = Circuit(id="main", limit_a=dict.fromkeys(LINES, limit_a), base_a=dict.fromkeys(LINES, base_a))
        wirings = tuple(
            Wiring(
                **{
                    "evse": Evse(f"bay-{i}", 1),
                    "circuit": "main",
                    "fallback_a": fallback_a,
                    **wiring,
                    **odd.get(i, {}),
                }
            )
            for i in range(bays)
        )
        self.site = Installation(system=System.TN_400, circuits=(main,), wirings=wirings)
        self.evses = [w.evse for w in wirings]
        self.state = new_site(self.site, {"main": meter} if meter else None)
        self.real = {
            w.evse: RealStation(
                w.fallback_a if w.keeps_profiles else w.max_current_a,
                rating_a=w.max_current_a,
                keeps=w.keeps_profiles,
            )
            for w in wirings
        }
        self.now_s = 10_000.0
        self.queued: list[Offer] = []
        self.delivered: list[tuple[Offer, bool]] = []
        self.sent: list[Offer] = []
        self.steps: list[Step] = []
        self.charges = 0

    def bay(self, i: int) -> Any:
        return self.state.bays[self.evses[i]]

    def change(self, i: int, change: Callable[[Any], Any]) -> None:
        self.state = self.state.with_bay(change(self.bay(i)))

    # What happens at the stations

    def connect(self, *which: int) -> "Yard":
        for i in which or range(len(self.evses)):
            real, evse = self.real[self.evses[i]], self.evses[i]
            real.linked = True
            self.change(i, lambda bay: bay.connected())
            held = self.bay(i).charge
            if held is not None and held.transaction != real.transaction:
                self.change(i, lambda bay: bay.ended())
            if real.transaction is not None:
                charge = Charge(transaction=real.transaction, started_s=self.now_s)
                self.told(i, charge)
            assert self.bay(i).evse == evse
        return self

    def told(self, i: int, charge: Charge) -> None:
        """We hear that a transaction runs."""
        self.change(i, lambda bay: bay.started(charge, self.now_s))

    def lose(self, i: int, *, arrived: bool = False) -> None:
        """The socket is gone; what was on its way has `arrived` or not."""
        evse = self.evses[i]
        for offer in [offer for offer in self.queued if offer.evse == evse]:
            if arrived:
                self.real[evse].hold(offer, self.now_s)
        self.queued = [offer for offer in self.queued if offer.evse != evse]
        self.delivered = [(offer, took) for offer, took in self.delivered if offer.evse != evse]
        self.real[evse].unlink()
        self.change(i, lambda bay: bay.lost(self.now_s))

    def plug(self, *which: int, **facts: Any) -> "Yard":
        for i in which:
            real = self.real[self.evses[i]]
            if real.transaction is None:
                self.charges += 1
                real.transaction = f"t{self.charges}"
            if real.linked:
                charge = Charge(**{"transaction": real.transaction, "started_s": self.now_s, **facts})
                self.told(i, charge)
        return self

    def unplug(self, i: int) -> None:
        real = self.real[self.evses[i]]
        real.transaction = real.live = None
        if real.linked:
            self.change(i, lambda bay: bay.ended())

    def measure(self, i: int, *amperes: float | None) -> None:
        values = (*amperes, None, None)[:3] if len(amperes) > 1 else (amperes[0],) * 3
        self.change(i, lambda bay: bay.measured(values, self.now_s))

    def building(self, amperes: float | dict[Line, float]) -> None:
        line_a = amperes if isinstance(amperes, dict) else dict.fromkeys(LINES, amperes)

        self.state = replace(
            self.state, readings={**self.state.readings, "main": BuildingReading(line_a, self.now_s)}
        )

    # The way between

    def look(self) -> Step:
        found = step(self.state, self.now_s)
        self.state = found.state
        self.queued += found.offers
        self.sent += found.offers
        self.steps.append(found)
        return found

    def deliver(self, offer: Offer) -> None:
        self.queued.remove(offer)
        self.delivered.append((offer, self.real[offer.evse].hold(offer, self.now_s)))

    def reply(self, offer: Offer, outcome: Outcome | None = None) -> None:
        took = next(took for other, took in self.delivered if other == offer)
        self.delivered.remove((offer, took))
        outcome = outcome or (Outcome.ACCEPTED if took else Outcome.REFUSED)
        i = self.evses.index(offer.evse)
        self.change(i, lambda bay: bay.answered(offer.id, outcome, self.now_s))

    def refuse(self, offer: Offer) -> None:
        self.queued.remove(offer)
        i = self.evses.index(offer.evse)
        self.change(i, lambda bay: bay.answered(offer.id, Outcome.REFUSED, self.now_s))

    def answer_all(self) -> None:
        for offer in list(self.queued):
            self.deliver(offer)
        for offer, _ in list(self.delivered):
            self.reply(offer)

    def settle(self, seconds: float = 0.0) -> "Yard":
        """Everything is answered at once, second by second."""
        self.look()
        self.answer_all()
        for _ in range(int(seconds)):
            self.now_s += 1.0
            self.look()
            self.answer_all()
        return self

    # What is to be seen

    def live(self, since: int = 0) -> list[tuple[int, float]]:
        """Live offers sent: (bay, A)."""
        return [
            (self.evses.index(offer.evse), offer.current_a)
            for offer in self.sent[since:]
            if offer.purpose is Purpose.LIVE
        ]

    def offered(self) -> list[float | None]:
        return [self.bay(i).promise.offered(self.now_s) for i in range(len(self.evses))]

    def drawn_a(self) -> float:
        return sum(real.draw(self.now_s) for real in self.real.values())

    def overfull(self) -> list[Any]:
        base_a = self.state.base_a(self.now_s)
        return Room(self.state.network, self.state.bays.values(), base_a, self.now_s, 0.0).overfull()

    def restart(self) -> None:
        """Our process dies and comes back with what it had written down."""
        found = {evse: bay.to_store(self.now_s) for evse, bay in self.state.bays.items()}
        open_charges = {evse: bay.charge for evse, bay in self.state.bays.items() if bay.charge}
        self.state = new_site(self.site, self.state.meters, found)
        for real in self.real.values():
            real.unlink()
        for evse, charge in open_charges.items():
            self.state = self.state.with_bay(self.state.bays[evse].started(charge, self.now_s))
        self.queued, self.delivered = [], []


@pytest.fixture
def yard() -> Callable[..., Yard]:
    """Makes a yard: `yard(bays=3, limit_a=32.0, fallback_a=0.0)`."""
    return Yard
