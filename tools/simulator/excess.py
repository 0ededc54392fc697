"""Keeps watch on a circuit: how long and how far the currents were above its limit."""

from dataclasses import dataclass

from tools.simulator.car import Lines

TOLERANCE_A = 0.05
"""Meters and roundings; less than this above the limit is not above it."""


@dataclass(slots=True, kw_only=True)
class Excess:
    """`limit_a` per line. `longest_s` is the longest time without a break that any line was above."""

    limit_a: float
    seconds: float = 0.0
    ampere_seconds: float = 0.0
    highest_a: float = 0.0
    longest_s: float = 0.0
    running_s: float = 0.0

    def step(self, dt_s: float, currents_a: Lines) -> None:
        """The lines carried these currents for `dt_s` seconds."""
        self.highest_a = max(self.highest_a, *currents_a)
        above = [current - self.limit_a for current in currents_a if current > self.limit_a + TOLERANCE_A]
        if not above:
            self.running_s = 0.0
            return
        self.seconds += dt_s
        self.ampere_seconds += sum(above) * dt_s
        self.running_s += dt_s
        self.longest_s = max(self.longest_s, self.running_s)
