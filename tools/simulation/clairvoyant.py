"""The most energy that could have been delivered by somebody who knew everything beforehand.

A linear programme over slots (HiGHS by scipy): energy of each car in each slot of its stay; the limits of
every circuit on every line, with the base load's mean in the slot; the car's and the station's highest
current, the taper (by the energy at the slot's begin, so rather too much), its need. No lowest current, no
steps, no delay, no message: an upper bound of what is possible under the limits as configured. In the delta
the phasor sums with the configured margin, bounded from outside by straight lines (at most 0.4 % too much).
"""

import cmath
import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from tools.simulation.description import Description, Station
from tools.simulation.load import Change, Phasors, changes
from tools.simulation.places import Stay

SLOT_S: Final = 900.0
DIRECTIONS: Final = tuple(math.radians(10.0 * n) for n in range(36))
"""Between two of them a circle's radius is passed by at most 1 / cos(5 degrees) - 1 = 0.4 %."""
V: Final = 230.0


@dataclass(slots=True)
class _Rows:
    """A sparse matrix as it grows, with its right-hand side."""

    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    bound: list[float] = field(default_factory=list)

    def add(self, terms: Sequence[tuple[int, float]], bound: float) -> None:
        """sum of value times variable is at most, or is, `bound`."""
        for column, value in terms:
            self.row.append(len(self.bound))
            self.column.append(column)
            self.value.append(value)
        self.bound.append(bound)

    def matrix(self, width: int) -> csr_matrix:
        return csr_matrix((self.value, (self.row, self.column)), shape=(len(self.bound), width))


def per_ampere(station: Station, lines: int, *, delta: bool) -> tuple[Phasors, float]:
    """Phasors on the supply's lines, and W, per ampere of the car's own conductor at unity power factor."""
    found: list[complex] = [0.0, 0.0, 0.0]
    if not delta:
        for line in station.rotation[:lines]:
            found[line] = 1.0
        return (found[0], found[1], found[2]), V * lines
    angle = [cmath.rect(1.0, -2 * math.pi / 3 * line) for line in range(3)]
    if lines == 3:
        return (angle[0], angle[1], angle[2]), math.sqrt(3) * V
    first, second = station.rotation[:2]
    pair = (angle[first] - angle[second]) / math.sqrt(3)
    found[first], found[second] = pair, -pair
    return (found[0], found[1], found[2]), V


def best_wh(description: Description, stays: Sequence[Stay], *, slot_s: float = SLOT_S) -> float:
    """The most energy in Wh that all these stays together could have got. RuntimeError: none was found."""
    delta = description.system.is_delta
    margin = 1 + description.delta_margin if delta else 1.0
    slots = math.ceil((description.ends_s - description.starts_s) / slot_s)
    bases = _means(description, slots, slot_s)
    highs: list[float] = []
    less, same = _Rows(), _Rows()
    flows: dict[tuple[str, int, int], list[tuple[int, complex]]] = {}
    energies: list[int] = []
    for stay in stays:
        model, station = stay.arrival.model, stay.place.station
        phasors, watts = per_ampere(station, model.lines, delta=delta)
        most_w = min(model.max_current_a, station.max_current_a) * watts
        level: int | None = None  # the variable that holds what was given before this slot
        first = int((stay.began_s - description.starts_s) // slot_s)
        last = min(slots - 1, int((stay.ends_s - description.starts_s - 1e-6) // slot_s))
        for slot in range(first, last + 1):
            begin = description.starts_s + slot * slot_s
            inside_s = min(stay.ends_s, begin + slot_s) - max(stay.began_s, begin)
            x, after = len(highs), len(highs) + 1
            highs += [most_w * inside_s / 3600, stay.need_wh]
            energies.append(x)
            terms = [(after, 1.0), (x, -1.0)] + ([(level, -1.0)] if level is not None else [])
            same.add(terms, 0.0)
            _taper(less, stay, x, level, most_w * inside_s / 3600)
            level = after
            per_wh = 3600 / slot_s / watts
            for circuit in description.way_up(station.circuit):
                for line in range(3):
                    if phasors[line]:
                        flows.setdefault((circuit, line, slot), []).append((x, phasors[line] * per_wh))
    if not energies:
        return 0.0
    for (circuit_id, line, slot), terms_a in flows.items():
        head_a = max(0.0, description.circuit(circuit_id).limit_a - bases[circuit_id][slot][line])
        if not delta:
            less.add([(x, value.real) for x, value in terms_a], head_a)
            continue
        for angle in DIRECTIONS:
            turn = cmath.rect(1.0, -angle)
            parts = [(x, (value * turn).real) for x, value in terms_a]
            if sum(highs[x] * max(0.0, part) for x, part in parts) > head_a / margin:
                less.add(parts, head_a / margin)
    cost = np.zeros(len(highs))
    cost[energies] = -1.0
    solved = linprog(
        cost,
        A_ub=less.matrix(len(highs)) if less.bound else None,
        b_ub=less.bound or None,
        A_eq=same.matrix(len(highs)),
        b_eq=same.bound,
        bounds=np.column_stack([np.zeros(len(highs)), np.array(highs)]),
        method="highs-ipm",
    )
    if solved.status != 0:
        raise RuntimeError(f"the best possible was not found: {solved.message}")
    return float(-solved.fun)


def _taper(less: _Rows, stay: Stay, x: int, level: int | None, most_wh: float) -> None:
    """x / most <= 1 - (1 - floor) * (soc - from) / (1 - from), soc as it was at the slot's begin."""
    model, soc = stay.arrival.model, stay.arrival.soc
    if model.taper_from >= 1 or most_wh <= 0:
        return
    steep = (1 - model.taper_floor) / (1 - model.taper_from)
    at_begin = 1 - steep * (soc - model.taper_from)
    per_wh = steep * model.efficiency / model.battery_wh
    if level is None:
        less.add([(x, 1.0)], most_wh * max(model.taper_floor, at_begin))
    else:
        # Never below the floor's line: at a full battery the right side is the floor itself.
        less.add([(x, 1.0), (level, most_wh * per_wh)], most_wh * at_begin)


def _means(
    description: Description, slots: int, slot_s: float
) -> dict[str, list[tuple[float, float, float]]]:
    """Mean magnitude of the base load per circuit, slot and line, circuits below included."""
    found = {c.id: [(0.0, 0.0, 0.0)] * slots for c in description.circuits}
    for load in description.loads:
        series = _mean(changes(description, load), description, slots, slot_s)
        for circuit in description.way_up(load.circuit):
            found[circuit] = [
                (a[0] + b[0], a[1] + b[1], a[2] + b[2]) for a, b in zip(found[circuit], series, strict=True)
            ]
    return found


def _mean(
    series: list[Change], description: Description, slots: int, slot_s: float
) -> list[tuple[float, float, float]]:
    times = [change.at_s for change in series]
    means = []
    for slot in range(slots):
        begin = description.starts_s + slot * slot_s
        n = max(0, bisect_right(times, begin) - 1)
        at_s, sums = begin, [0.0, 0.0, 0.0]
        while at_s < begin + slot_s:
            until_s = min(begin + slot_s, times[n + 1] if n + 1 < len(times) else math.inf)
            for line in range(3):
                sums[line] += abs(series[n].line_a[line]) * (until_s - at_s)
            at_s, n = until_s, n + 1
        means.append((sums[0] / slot_s, sums[1] / slot_s, sums[2] / slot_s))
    return means
