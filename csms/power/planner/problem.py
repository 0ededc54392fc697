"""What the planner is asked, and what it answers: plain values that go to another process and back.

A *slot* is a quarter of an hour by UTC, so that a day on which the clocks are changed has 92 or 100 of
them and nothing else is different; the first one is what is left of the quarter that runs. A *row* is
one line of one circuit (A) or a circuit's cap (W), as in `csms.power.sharing.currents`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from csms.power.sharing.currents import Path
from csms.units import LOWEST_CURRENT_A


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCar:
    """A car and what it needs.

    It charges in the slots from 0 to before `last`, with nothing or with `min_a` to `max_a`. `need_wh` is
    what is missing; `eager` cars have told no need: theirs is an assumption, they charge as soon as they
    can, whatever it costs, and come after all others when not everybody can be served. `priority`: a
    higher class has its need met first. `seed`, from 0 to below 1, spreads equal cars over equally cheap
    hours. `running`: it charges now, so that to go on is no new start.
    """

    id: str
    path: Path
    watts_per_a: float
    max_a: float
    need_wh: float
    last: int
    min_a: float = LOWEST_CURRENT_A
    eager: bool = False
    priority: int = 0
    seed: float = 0.0
    running: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """`hours`: length of each slot. `heads`: by row, what each slot leaves for these cars. `prices`: per kWh
    in each slot. `start_cost`: what a start of a car is held to cost, in the prices' currency."""

    hours: tuple[float, ...]
    heads: Mapping[int, tuple[float, ...]]
    prices: tuple[float, ...]
    cars: tuple[PlannedCar, ...]
    start_cost: float = 0.0
    time_limit_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """`current_a`: by car, A in each slot, 0 or at least the car's minimum. `short_wh`: by car, what its need
    is not met by. `complete` False: time ran out, and who is short may be so unfairly."""

    current_a: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    short_wh: Mapping[str, float] = field(default_factory=dict)
    complete: bool = True
