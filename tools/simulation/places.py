"""One bay: its station's memory, its pilot, its car. Physics only; what the car draws is told as phasors.

A car's current is constant between the events at which it is looked at: pilot, reaction, reading, full.
In the taper it falls in between, which is never above what is counted.
"""

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random
from typing import Final

from csms.power.steering.profile import Offer
from tools.simulation.arrivals import Arrival
from tools.simulation.description import Station, Use, Visit
from tools.simulation.load import Phasors
from tools.simulation.memory import Memory
from tools.simulator.car import LOWEST_PILOT_A, Car, Lines

LINE_TO_NEUTRAL_V: Final = 230.0
POWER_FACTOR_SPREAD: Final = math.acos(0.99)
"""Onboard chargers at full load: near unity, either sign (common practice)."""
NOTHING: Final[Phasors] = (0.0, 0.0, 0.0)
DARK: Final[Lines] = (0.0, 0.0, 0.0)


@dataclass(slots=True, kw_only=True)
class Stay:
    """One car's time at a bay, and what is written down of it. `waited`: spans in which it asked for power
    and had no pilot."""

    arrival: Arrival
    place: "Place"
    car: Car
    transaction: str
    began_s: float
    need_wh: float
    ends_s: float = math.inf
    energy_wh: float = 0.0
    done_s: float = math.inf
    waited: list[tuple[float, float]] = field(default_factory=list)
    waits_since_s: float | None = None


class Place:
    """One station of one bay. `told`: the server knows of the transaction that runs."""

    def __init__(self, station: Station, *, delta: bool, random: Random) -> None:
        self.station = station
        self.delta = delta
        self.memory = Memory(station.max_current_a, keeps=station.keeps_profiles)
        self.stay: Stay | None = None
        self.online = False
        self.pilot_a = 0.0
        self.line_a: Phasors = NOTHING
        self.asks = False
        self.version = 0
        self._at_s = 0.0
        self._angle = random.uniform(-POWER_FACTOR_SPREAD, POWER_FACTOR_SPREAD) if delta else 0.0
        self._called = False

    @property
    def transaction(self) -> str | None:
        return self.stay.transaction if self.stay else None

    def plug_in(self, stay: Stay, now_s: float) -> None:
        """A car comes and its transaction begins."""
        self.stay, self._at_s, self._called = stay, now_s, False
        stay.car.wake()

    def unplug(self, now_s: float) -> Stay:
        """The car leaves; its transaction is over."""
        stay = self.stay
        assert stay is not None
        self.settle(now_s)
        stay.ends_s = now_s
        if stay.waits_since_s is not None:
            stay.waited.append((stay.waits_since_s, now_s))
            stay.waits_since_s = None
        self.stay, self.line_a, self.pilot_a, self.asks = None, NOTHING, 0.0, False
        self.memory.transaction_over()
        return stay

    def take(self, offer: Offer) -> bool:
        return self.memory.take(offer, self.transaction)

    def settle(self, now_s: float) -> None:
        """Live through the time since the last look, then set the pilot to the limit in force."""
        stay = self.stay
        if stay is None:
            return
        car, wired = stay.car, self._wired()
        passed_s = now_s - self._at_s
        self._at_s = now_s
        if passed_s > 0:
            stay.energy_wh += car.step(
                passed_s, pilot_a=self.pilot_a, energised=True, voltage_v=self._voltage_v(), wired=wired
            )
        self._set_pilot(car, now_s)
        car.step(0.0, pilot_a=self.pilot_a, energised=False, voltage_v=0.0, wired=wired)
        self.line_a = self._phasors(car.current_a())
        self.asks = car.asks
        if car.full and math.isinf(stay.done_s):
            stay.done_s = now_s
        waits = not car.full and self.pilot_a < LOWEST_PILOT_A
        if waits and stay.waits_since_s is None:
            stay.waits_since_s = now_s
        elif not waits and stay.waits_since_s is not None:
            stay.waited.append((stay.waits_since_s, now_s))
            stay.waits_since_s = None

    def next_s(self, now_s: float) -> float:
        """When it must be looked at again: a reaction, a limit that ends, a battery that is full."""
        stay = self.stay
        if stay is None:
            return math.inf
        due = self.memory.next_end_s(now_s)
        reacts = stay.car.reacts_in_s()
        if reacts is not None:
            due = min(due, now_s + max(reacts, 1e-3))
        power_w = self._power_w(stay.car.current_a())
        if power_w > 0:
            due = min(due, now_s + max(1.0, stay.car.need_wh() / power_w * 3600))
        return due

    def terminals_a(self) -> Lines:
        """What the station's own meter reads at L1, L2, L3."""
        if self.stay is None:
            return DARK
        draw, lines = self.stay.car.current_a(), self.stay.car.model.lines
        if self.delta:
            return (draw, draw, draw if lines == 3 else 0.0)
        return self.stay.car.lines_a()

    def _set_pilot(self, car: Car, now_s: float) -> None:
        top = self.memory.limit_a(now_s)
        steps = int(top / self.station.step_a + 1e-6)
        pilot_a = round(steps * self.station.step_a, 6)
        pilot_a = pilot_a if pilot_a >= LOWEST_PILOT_A else 0.0
        if car.asleep and pilot_a != self.pilot_a:
            # It slept through the first pilot; the pulse off and on again wakes it (IEC 61851-1 Annex A).
            if pilot_a > 0 and self._called:
                car.wake()
            self._called = (pilot_a == 0 and self.pilot_a > 0) or self._called
        elif not car.asleep:
            self._called = False
        self.pilot_a = pilot_a

    def _wired(self) -> int:
        assert self.stay is not None
        return 1 if self.delta and self.stay.car.model.lines < 3 else 3

    def _voltage_v(self) -> float:
        """Per amperes and line that `Car` counts: in the delta one pair, or three lines to a middle."""
        assert self.stay is not None
        balanced = self.delta and self.stay.car.model.lines == 3
        return LINE_TO_NEUTRAL_V / math.sqrt(3) if balanced else LINE_TO_NEUTRAL_V

    def _power_w(self, current_a: float) -> float:
        assert self.stay is not None
        return current_a * min(self._wired(), self.stay.car.model.lines) * self._voltage_v()

    def _phasors(self, current_a: float) -> Phasors:
        """Per line of the supply."""
        assert self.stay is not None
        found: list[complex] = [0.0, 0.0, 0.0]
        if not current_a:
            return NOTHING
        rotation, lines = self.station.rotation, self.stay.car.model.lines
        if not self.delta:
            for line in rotation[:lines]:
                found[line] = current_a
        elif lines == 3:
            for line in rotation:
                found[line] = cmath.rect(current_a, -2 * math.pi / 3 * line + self._angle)
        else:
            first, second = rotation[0], rotation[1]
            volts = cmath.rect(1.0, -2 * math.pi / 3 * first) - cmath.rect(1.0, -2 * math.pi / 3 * second)
            current = volts / abs(volts) * cmath.rect(current_a, self._angle)
            found[first], found[second] = current, -current
        return (found[0], found[1], found[2])


def bay_for(visit: Visit, places: Iterable[Place]) -> Place | None:
    """The bay that the car takes: its usual one if that is free, else the first for its use."""
    bays = [place for place in places if place.station.use in (visit.use, Use.ALL)]
    if visit.bay is not None and bays and bays[visit.bay % len(bays)].stay is None:
        return bays[visit.bay % len(bays)]
    return next((place for place in bays if place.stay is None), None)
