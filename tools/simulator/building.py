"""What the building itself draws: a series of power, spread over the lines, with steps on top."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from tools.simulator.car import Lines

NOMINAL_V: Final = 230.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Appliance:
    """A step on one line (0, 1, 2 for L1, L2, L3) of the supply: a lift, an oven, a dryer."""

    line: int
    current_a: float
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingLoad:
    """Power in W at `starts_at` + n * `interval_s`, held over the interval and repeated when it is over.

    `shares` says what part of it flows on L1, L2, L3 (sum 1). Raises ValueError for an empty series, shares
    that do not add up, or a naive time.
    """

    starts_at: datetime
    interval_s: float
    power_w: Sequence[float]
    shares: Lines = (1 / 3, 1 / 3, 1 / 3)
    power_factor: float = 0.95
    appliances: Sequence[Appliance] = field(default=())

    def __post_init__(self) -> None:
        if not self.power_w or self.interval_s <= 0:
            raise ValueError("power_w must not be empty and interval_s must be above 0")
        if abs(sum(self.shares) - 1) > 1e-9:
            raise ValueError(f"shares: {self.shares} add up to {sum(self.shares)}, not to 1")
        if self.starts_at.tzinfo is None:
            raise ValueError("starts_at must say its zone")

    def power_at_w(self, at: datetime) -> float:
        position = (at - self.starts_at).total_seconds() // self.interval_s
        return self.power_w[int(position) % len(self.power_w)]

    def currents_a(self, at: datetime) -> Lines:
        """Amperes on L1, L2, L3 of the supply at this moment."""
        apparent_va = self.power_at_w(at) / self.power_factor
        lines = [apparent_va * share / NOMINAL_V for share in self.shares]
        for step in self.appliances:
            if step.starts_at <= at < step.ends_at:
                lines[step.line] += step.current_a
        return (lines[0], lines[1], lines[2])

    def next_change(self, at: datetime) -> datetime:
        """The first moment after `at` at which an appliance starts or ends, or the interval ends."""
        position = (at - self.starts_at).total_seconds() // self.interval_s
        edge = self.starts_at + timedelta(seconds=(position + 1) * self.interval_s)
        steps = sorted(t for step in self.appliances for t in (step.starts_at, step.ends_at))
        index = bisect_right(steps, at)
        return min(edge, steps[index]) if index < len(steps) else edge
