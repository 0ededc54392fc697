"""A problem as arrays. Only the process that plans imports this: numpy comes with phaseyard[optimise].

A delta's limit is on the length of a phasor sum, which no linear programme knows. All phasors of a row
lie within 60 degrees, so the sum does too: it is kept short in a few directions (*cuts*) at most 20 degrees
apart, each with the limit times cos(10 degrees), which is never too much and at most 1.5 % too little.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from csms.power.planner.problem import Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Booleans = NDArray[np.bool_]

CUT_EVERY = math.radians(20.0)
PREFERENCE = 1e-3
"""How much dearer the least liked of equally cheap slots is made, as a share of the highest price."""
GOES_ON = 2.0
"""How much more a car that charges likes to go on than another to begin: a new plan swaps no equal cars."""
SPREAD = 0.8
"""Of an equally cheap stretch: cars are not spread to its very end."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Shapes: C cars, S slots, Q cuts. `window[c, s]`: the car may charge there. `kwh[c, s]`: kWh per A.
    `weight[q, c]`: what a car's ampere puts on a cut; `head[q, s]`: what the cut bears. `cost[c, s]`: per
    kWh, the price and how much the slot is liked. `price[s]`: the price alone."""

    problem: Problem
    window: Booleans
    kwh: Floats
    weight: Floats
    head: Floats
    cost: Floats
    price: Floats
    need: Floats
    low: Floats
    high: Floats
    eager: Booleans

    @property
    def scale(self) -> float:
        """A price that is above all differences between what energy can cost here."""
        return float(np.max(np.abs(self.cost), initial=0.0)) + 1e-3


def lay_out(problem: Problem) -> Layout:
    """The arrays of `problem`."""
    cars, slots = problem.cars, len(problem.hours)
    hours, price = np.array(problem.hours), np.array(problem.prices)
    last = np.array([car.last for car in cars], dtype=np.int64)
    high = np.array([car.max_a for car in cars], dtype=float)
    low = np.array([car.min_a for car in cars], dtype=float)
    watts = np.array([car.watts_per_a for car in cars], dtype=float)
    window = np.arange(slots)[None, :] < last[:, None]
    window &= (high >= low)[:, None]
    weight, head = _cuts(problem)
    kwh = watts[:, None] * hours[None, :] / 1000.0
    return Layout(
        problem=problem,
        window=window,
        kwh=kwh,
        weight=weight,
        head=head,
        cost=_cost(problem, price, hours, watts, high),
        price=price,
        need=np.array([car.need_wh / 1000.0 for car in cars], dtype=float),
        low=low,
        high=high,
        eager=np.array([car.eager for car in cars], dtype=bool),
    )


def _cuts(problem: Problem) -> tuple[Floats, Floats]:
    on_row: dict[int, dict[int, complex]] = {}
    for c, car in enumerate(problem.cars):
        for row, value in car.path:
            if row in problem.heads:
                on_row.setdefault(row, {})[c] = value
    weights: list[Floats] = []
    heads: list[Floats] = []
    for row, loads in sorted(on_row.items()):
        cars = list(loads)
        values = np.array([loads[c] for c in cars])
        head = np.maximum(0.0, np.array(problem.heads[row]))
        if not np.isfinite(head).any():
            continue
        for direction, share in _directions(values):
            weight = np.zeros(len(problem.cars))
            weight[cars] = (values * np.exp(-1j * direction)).real
            weights.append(weight)
            heads.append(head * share)
    if not weights:
        return np.zeros((0, len(problem.cars))), np.zeros((0, len(problem.hours)))
    return np.array(weights), np.array(heads)


def _directions(values: NDArray[np.complex128]) -> list[tuple[float, float]]:
    """(angle, share of the limit) of the cuts that keep a sum of multiples of `values` short."""
    about = np.angle(values.sum())
    angles = np.angle(values * np.exp(-1j * about))
    lowest, spread = float(angles.min()), float(np.ptp(angles))
    count = max(1, math.ceil(spread / CUT_EVERY - 1e-9))
    width = spread / count
    return [(about + lowest + (i + 0.5) * width, math.cos(width / 2)) for i in range(count)]


def _cost(problem: Problem, price: Floats, hours: Floats, watts: Floats, high: Floats) -> Floats:
    """Prices, and so little besides that it decides between equally cheap slots only.

    In a stretch of equal prices each car likes the slots around a place of its own, drawn by its seed, so
    that equal cars do not all start at the minute at which it becomes cheap; in the stretch that runs
    already, and where a car is eager, the earliest, and most of all who charges now.
    """
    slots = len(price)
    cost = np.tile(price, (len(problem.cars), 1))
    if slots == 0:
        return cost
    little = PREFERENCE * (float(np.max(np.abs(price))) or 1.0)
    spread_over = max(float(price.max() - price.min()), little)
    edges = [0, *(i for i in range(1, slots) if price[i] != price[i - 1]), slots]
    order = np.arange(slots)
    for c, car in enumerate(problem.cars):
        if car.eager:
            cost[c] = spread_over * (GOES_ON if car.running else 1.0) * order / slots
            continue
        full = watts[c] * high[c] / 1000.0
        for begin, end in pairwise(edges):
            end = min(end, car.last)
            if end <= begin:
                break
            middle, steep = 0.0, (GOES_ON if car.running else 1.0) + 0.1 * car.seed
            if begin > 0 and full > 0:
                taken = min(end - begin, car.need_wh / 1000.0 / (full * float(hours[-1])))
                middle, steep = taken / 2 + car.seed * SPREAD * (end - begin - taken) - 0.5, 1.0
            cost[c, begin:end] += little * steep * np.abs(np.arange(end - begin) - middle) / slots
    return cost
