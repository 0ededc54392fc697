"""The same problem in half hours, or hours: so that cars are not switched at every quarter.

Among equally good plans a programme picks any, and most of them switch cars at every quarter. Neighbouring
quarters that cost the same are taken as one, with what the worst of them leaves, and the currents found
are a pattern for the quarters. It costs some tenths of a percent and halves the starts. Where not all
needs can be met it would leave more of them unmet, and is not used.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from csms.power.planner.layout import Floats
from csms.power.planner.problem import Problem

LENGTHS = (2, 4)
"""Quarters of a block. Which is best depends on the prices; the better one is taken."""


def block_edges(problem: Problem, length: int) -> list[int]:
    """Where blocks of at most `length` quarters begin, as slots, and the end of the last one."""
    edges = [0]
    for slot in range(1, len(problem.hours)):
        if problem.prices[slot] != problem.prices[slot - 1] or slot - edges[-1] >= length:
            edges.append(slot)
    return [*edges, len(problem.hours)]


def in_blocks(problem: Problem, edges: list[int]) -> Problem:
    """`problem` with one slot for each block; a car that leaves within a block does not charge in it."""
    spans = list(pairwise(edges))
    return replace(
        problem,
        hours=tuple(sum(problem.hours[a:b]) for a, b in spans),
        heads={row: tuple(min(heads[a:b]) for a, b in spans) for row, heads in problem.heads.items()},
        prices=tuple(problem.prices[a] for a, _ in spans),
        cars=tuple(replace(car, last=sum(1 for _, b in spans if b <= car.last)) for car in problem.cars),
    )


def in_slots(amps: Floats, edges: list[int]) -> Floats:
    """Currents by car and block as currents by car and slot."""
    found: Floats = np.repeat(amps, np.diff(edges), axis=1)
    return found
