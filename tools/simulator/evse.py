"""An EVSE: control pilot, contactor and meter. Pure physics, stepped with dt.

Pilot states as in IEC 61851-1: A no car, B car not asking, C car asking, F not available (here also after a
fault).
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from tools.simulator.car import DARK, LOWEST_PILOT_A, Car, Lines

OPENS_UNDER_LOAD_AFTER_S: Final = 6.0
"""A car that goes on drawing without pilot is cut off by the contactor, not earlier than this (IEC 61851-1
Annex A, from memory)."""


class Pilot(StrEnum):
    A = "A"
    B = "B"
    C = "C"
    F = "F"


@dataclass(frozen=True, slots=True, kw_only=True)
class EvseModel:
    """`step_a` is how finely the pilot is set; `line_count` the lines that are wired (1 or 3)."""

    max_current_a: float = 32.0
    step_a: float = 0.1
    line_count: int = 3
    voltage_v: float = 230.0


class Evse:
    """One EVSE. `register_wh` only grows, like a certified meter; `currents_a` is per terminal L1, L2, L3."""

    def __init__(self, model: EvseModel, *, register_wh: float = 0.0) -> None:
        self.model = model
        self.car: Car | None = None
        self.in_service = True
        self.faulted = False
        self.contactor_closed = False
        self.offered_a = 0.0
        self.currents_a: Lines = DARK
        self.register_wh = register_wh
        self._no_pilot_s = 0.0

    @property
    def pilot(self) -> Pilot:
        if self.faulted or not self.in_service:
            return Pilot.F
        if self.car is None:
            return Pilot.A
        return Pilot.C if self.car.asks and self.offered_a >= LOWEST_PILOT_A else Pilot.B

    @property
    def power_w(self) -> float:
        return sum(self.currents_a) * self.model.voltage_v

    def offer(self, limit_a: float) -> None:
        """Set the pilot to the highest current it can express that is not above `limit_a`: 0, or 6 A and
        more."""
        top = min(limit_a, self.model.max_current_a)
        steps = int(top / self.model.step_a + 1e-6)
        current = round(steps * self.model.step_a, 6)
        self.offered_a = current if current >= LOWEST_PILOT_A else 0.0

    def plug_in(self, car: Car) -> None:
        if self.car is not None:
            raise ValueError(f"{self.car.name} is plugged in here already")
        self.car = car
        car.wake()

    def unplug(self) -> Car:
        if self.car is None:
            raise ValueError("no car is plugged in here")
        car, self.car = self.car, None
        car.unplug()
        self.offered_a, self.contactor_closed, self.currents_a = 0.0, False, DARK
        return car

    def step(self, dt_s: float) -> float:
        """Live through `dt_s` seconds; return the energy metered in Wh."""
        car = self.car
        if car is None:
            self.contactor_closed, self.currents_a = False, DARK
            return 0.0
        pilot_a = 0.0 if self.pilot is Pilot.F else self.offered_a
        self._switch(car, pilot_a)
        energised_s = dt_s
        if (
            pilot_a < LOWEST_PILOT_A
        ):  # a car that does not obey is cut off in the middle of a step, if need be
            energised_s = min(dt_s, max(0.0, OPENS_UNDER_LOAD_AFTER_S - self._no_pilot_s))
            self._no_pilot_s += dt_s
        else:
            self._no_pilot_s = 0.0
        energy = 0.0
        if energised_s > 0:
            energy = self._draw(car, energised_s, pilot_a)
        if dt_s > energised_s:
            self.contactor_closed = False
            self._draw(car, dt_s - energised_s, pilot_a)
        self._switch(car, pilot_a)
        self.currents_a = self._lines(car) if self.contactor_closed else DARK
        self.register_wh += energy
        return energy

    def _draw(self, car: Car, span_s: float, pilot_a: float) -> float:
        model, closed = self.model, self.contactor_closed
        return car.step(
            span_s, pilot_a=pilot_a, energised=closed, voltage_v=model.voltage_v, wired=model.line_count
        )

    def _switch(self, car: Car, pilot_a: float) -> None:
        if pilot_a >= LOWEST_PILOT_A:
            self.contactor_closed = car.asks
        elif not any(self._lines(car)) or self._no_pilot_s >= OPENS_UNDER_LOAD_AFTER_S:
            self.contactor_closed = False

    def _lines(self, car: Car) -> Lines:
        return car.lines_a(self.model.line_count)
