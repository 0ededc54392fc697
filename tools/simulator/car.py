"""A car: battery, onboard charger, and how it follows the control pilot. Pure physics, stepped with dt.

The pilot gives one maximum for every line (IEC 61851-1), 0 when it gives none. The car follows a change
within 5 s; here each change draws its own delay from `reaction_s`. It never takes more than the pilot in
force, its onboard charger or its battery (taper above a state of charge) allow, and asks for nothing when
full.
"""

import math
from dataclasses import dataclass
from random import Random
from typing import Final

LOWEST_PILOT_A: Final = 6.0
"""IEC 61851-1: the control pilot cannot express less."""

LONGEST_SUBSTEP_S: Final = 5.0
Lines = tuple[float, float, float]
DARK: Final[Lines] = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CarModel:
    """What a kind of car can do. All models are invented.

    `max_current_a` is the onboard charger's limit per line on `lines` lines (1: L1; 2: L1 and L2; 3: all).
    Above `taper_from` (state of charge, 0 to 1) the current falls in a straight line to `taper_floor` of
    the maximum at 1. `efficiency` is what of the metered energy arrives in the battery (about 0.9, common
    practice). `sleeps_after_s`: a car left without pilot for so long does not wake by itself (None: always
    wakes). `ignores_pilot`: takes its own maximum as long as there is any pilot, whatever it says.
    """

    name: str
    battery_wh: float
    lines: int = 3
    max_current_a: float = 16.0
    taper_from: float = 0.85
    taper_floor: float = 0.15
    efficiency: float = 0.9
    reaction_s: tuple[float, float] = (1.0, 5.0)
    sleeps_after_s: float | None = None
    ignores_pilot: bool = False

    def __post_init__(self) -> None:
        if self.lines not in (1, 2, 3):
            raise ValueError(f"lines: {self.lines} is not 1, 2 or 3")
        if self.battery_wh <= 0 or self.max_current_a < LOWEST_PILOT_A:
            raise ValueError("battery_wh must be above 0 and max_current_a at least 6")
        if not 0 < self.taper_from <= 1 or not 0 < self.taper_floor <= 1 or not 0 < self.efficiency <= 1:
            raise ValueError("taper_from, taper_floor and efficiency must be above 0 and at most 1")


class Car:
    """One car. `soc` and `target_soc` are states of charge from 0 to 1."""

    def __init__(
        self, model: CarModel, *, soc: float, random: Random, target_soc: float = 1.0, name: str | None = None
    ) -> None:
        if not 0 <= soc <= 1 or not 0 < target_soc <= 1:
            raise ValueError(f"soc {soc} and target_soc {target_soc} must lie between 0 and 1")
        self.model = model
        self.name = name or model.name
        self.stored_wh = soc * model.battery_wh
        self.target_soc = target_soc
        self._random = random
        self._told_a = 0.0  # the pilot as last seen
        self._follows_a = 0.0  # the pilot in force after the reaction time
        self._reacts_in_s: float | None = None
        self._without_pilot_s = 0.0
        self.asleep = False

    @property
    def soc(self) -> float:
        return self.stored_wh / self.model.battery_wh

    @property
    def full(self) -> bool:
        return self.stored_wh >= self.target_soc * self.model.battery_wh - 1e-6

    @property
    def asks(self) -> bool:
        """Whether the car asks for power (pilot state C) when it has a pilot."""
        return not self.full and not self.asleep

    def wake(self) -> None:
        """The pulse on the pilot, or a hand at the plug."""
        self.asleep = False
        self._without_pilot_s = 0.0

    def need_wh(self) -> float:
        """Energy at the meter still needed to reach the target."""
        return max(0.0, self.target_soc * self.model.battery_wh - self.stored_wh) / self.model.efficiency

    def acceptance_a(self) -> float:
        """What battery and onboard charger would take per line now."""
        model, soc = self.model, self.soc
        if soc <= model.taper_from or model.taper_from >= 1:
            return model.max_current_a
        share = 1 - (1 - model.taper_floor) * (soc - model.taper_from) / (1 - model.taper_from)
        return model.max_current_a * max(share, model.taper_floor)

    def current_a(self) -> float:
        """What the car draws per line at this instant, if it is connected to the mains."""
        if not self.asks or self._follows_a < LOWEST_PILOT_A:
            return 0.0
        if self.model.ignores_pilot:
            return self.acceptance_a()
        return min(self._follows_a, self.acceptance_a())

    def lines_a(self, wired: int = 3) -> Lines:
        """What it draws on L1, L2, L3 of an outlet with so many lines."""
        draw, used = self.current_a(), min(wired, self.model.lines)
        return (draw, draw if used >= 2 else 0.0, draw if used == 3 else 0.0)

    def step(
        self, dt_s: float, *, pilot_a: float, energised: bool, voltage_v: float, wired: int = 3
    ) -> float:
        """Live through `dt_s` seconds under a pilot of `pilot_a` per line; return the energy drawn in Wh.

        `energised` says whether the contactor is closed; without mains the car still follows the pilot.
        `wired` is the number of lines of the outlet.
        """
        if pilot_a != self._told_a:
            self._told_a = pilot_a
            self._reacts_in_s = self._random.uniform(*self.model.reaction_s)
        drawn_wh, left_s = 0.0, dt_s
        while left_s > 1e-9:
            span_s = min(left_s, self._even_s(voltage_v, wired) if energised else left_s)
            if self._reacts_in_s is not None:
                span_s = min(span_s, max(self._reacts_in_s, 1e-6))
            if energised:
                drawn_wh += self._charge(span_s, voltage_v, wired)
            self._pass(span_s)
            left_s -= span_s
        return drawn_wh

    def _even_s(self, voltage_v: float, wired: int) -> float:
        """For how long the current stays, if the pilot does; in the taper, for how long it may be taken
        to stay."""
        power_w = sum(self.lines_a(wired)) * voltage_v
        if power_w <= 0:
            return math.inf
        model = self.model
        until_wh = (min(model.taper_from, self.target_soc) - self.soc) * model.battery_wh / model.efficiency
        return max(LONGEST_SUBSTEP_S, until_wh / power_w * 3600)

    def _charge(self, span_s: float, voltage_v: float, wired: int) -> float:
        power_w = sum(self.lines_a(wired)) * voltage_v
        energy_wh = min(power_w * span_s / 3600, self.need_wh())
        self.stored_wh += energy_wh * self.model.efficiency
        return energy_wh

    def _pass(self, span_s: float) -> None:
        if self._reacts_in_s is not None:
            self._reacts_in_s -= span_s
            if self._reacts_in_s <= 1e-9:
                self._follows_a, self._reacts_in_s = self._told_a, None
        if self._told_a >= LOWEST_PILOT_A:
            self._without_pilot_s = 0.0
            return
        self._without_pilot_s += span_s
        limit_s = self.model.sleeps_after_s
        if limit_s is not None and self._without_pilot_s >= limit_s:
            self.asleep = True

    def reacts_in_s(self) -> float | None:
        """In how many seconds it will follow the pilot it was last told; None: it does already."""
        return self._reacts_in_s

    def unplug(self) -> None:
        """The cable is out: no pilot, nothing pending."""
        self._told_a = self._follows_a = 0.0
        self._reacts_in_s = None
        self.wake()
