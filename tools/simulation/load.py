"""What the building draws, as a list of changes: it is constant between two of them.

In the star a value is the current of a line. In the delta the given currents are those of the pairs
L1-L2, L2-L3, L3-L1, at the power factor of a house, and the lines carry their phasor sums.
"""

import cmath
import math
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from random import Random
from typing import Final

from tools.simulation.description import BaseLoad, Description, LoadKind
from tools.simulator.building import NOMINAL_V
from tools.weavers_yard.load import QUARTER_S, SHARES, appliances, common_parts
from tools.weavers_yard.people import SEED

Phasors = tuple[complex, complex, complex]
POWER_FACTOR: Final = 0.95


@dataclass(frozen=True, slots=True)
class Change:
    """From `at_s` on the lines carry `line_a` (phasors; real in the star)."""

    at_s: float
    line_a: Phasors


def changes(description: Description, load: BaseLoad) -> list[Change]:
    """All changes in the days described, the first at their start; equal neighbours are left out."""
    edges: dict[float, list[float]] = {}

    def add(at_s: float, line: int, current_a: float) -> None:
        edges.setdefault(at_s, [0.0, 0.0, 0.0])[line] += current_a

    start, end = description.starts_s, description.ends_s
    for at_s, until_s, values in _slow(description, load):
        for line, value in enumerate(values):
            add(at_s, line, value)
            add(until_s, line, -value)
    for day in range(description.days):
        for step in load.steps:
            for line in step.lines:
                add(start + day * 86_400 + step.at_s, line, step.current_a)
                add(start + day * 86_400 + step.at_s + step.lasts_s, line, -step.current_a)
    if load.kind is LoadKind.WEAVERS_YARD:
        for house in range(load.houses):
            for run in appliances(
                description.starts_at, description.days, Random(f"{description.seed} {house}")
            ):
                add(run.starts_at.timestamp(), run.line, run.current_a)
                add(run.ends_at.timestamp(), run.line, -run.current_a)
    sums = [0.0, 0.0, 0.0]
    found: list[Change] = []
    for at_s in sorted(edges):
        sums = [old + more for old, more in zip(sums, edges[at_s], strict=True)]
        if at_s >= end:
            break
        found.append(Change(at_s, as_lines((sums[0], sums[1], sums[2]), delta=description.system.is_delta)))
    kept = found[:1] + [later for first, later in pairwise(found) if first.line_a != later.line_a]
    return kept or [Change(start, (0.0, 0.0, 0.0))]


def as_lines(values: tuple[float, float, float], *, delta: bool) -> Phasors:
    """Line currents of the three values: they themselves in the star, the pairs' sums in the delta."""
    clean = tuple(max(0.0, round(value, 6)) for value in values)
    if not delta:
        return (clean[0], clean[1], clean[2])
    lag = math.acos(POWER_FACTOR)  # pair n's voltage is 30 degrees before that of its first line
    a, b, c = (cmath.rect(value, math.pi / 6 - 2 * math.pi / 3 * n - lag) for n, value in enumerate(clean))
    return (a - c, b - a, c - b)


def _slow(description: Description, load: BaseLoad) -> list[tuple[float, float, tuple[float, ...]]]:
    """From, until, and the values in between, without steps."""
    start = description.starts_s
    if load.kind is LoadKind.CONSTANT:
        return [(start, description.ends_s, (load.current_a,) * 3)]
    if load.kind is LoadKind.PROFILE:
        return [
            (start + hour * 3600.0, start + (hour + 1) * 3600.0, (load.hourly_a[hour % 24],) * 3)
            for hour in range(24 * description.days)
        ]
    house = common_parts(description.first_day, description.days, description.zone, seed=SEED)
    found = []
    for n in range(description.days * 96):
        at = description.starts_at + timedelta(seconds=n * QUARTER_S)
        volt_amperes = house.power_at_w(at) / house.power_factor * load.houses
        values = tuple(volt_amperes * share / NOMINAL_V for share in SHARES)
        found.append((start + n * QUARTER_S, start + (n + 1) * QUARTER_S, values))
    return found
