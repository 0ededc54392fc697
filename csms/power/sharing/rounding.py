"""Offers in the steps that stations can set (1 A or 0.1 A).

Rounding down never breaks a limit; what is left over is handed out one step at a time to the
worst-off car that can still take it.
"""

import math
from collections.abc import Sequence
from heapq import heapify, heappop, heappush

from csms.power.sharing.currents import TOLERANCE, Path


def down(amperes: float, step_a: float) -> float:
    """The largest multiple of `step_a` that is not above; 0 means no steps."""
    if not step_a:
        return amperes
    return round(math.floor(amperes / step_a + 1e-6) * step_a, 6)


def up(amperes: float, step_a: float) -> float:
    """The smallest multiple of `step_a` that is not below; 0 means no steps."""
    if not step_a:
        return amperes
    return round(math.ceil(amperes / step_a - 1e-6) * step_a, 6)


def hand_out(
    heads: Sequence[float],
    usage: list[complex],
    paths: Sequence[Path],
    amperes: list[float],
    maximums: Sequence[float],
    weights: Sequence[float],
    steps: Sequence[float],
    ranks: Sequence[int] | None = None,
) -> None:
    """Raise `amperes` step by step, lowest amperes per weight first; `usage` is kept up to date.

    Lower `ranks` go first. Who cannot take a step now never can, as room only shrinks.
    """
    queue = [(ranks[i] if ranks else 0, amperes[i] / weights[i], i) for i in range(len(paths)) if steps[i]]
    heapify(queue)
    most = [head + TOLERANCE * (1.0 + abs(head)) for head in heads]
    while queue:
        rank, _, i = heappop(queue)
        step = steps[i]
        higher = round(amperes[i] + step, 6)
        if higher > maximums[i] + TOLERANCE:
            continue
        for row, value in paths[i]:
            if abs(usage[row] + step * value) > most[row]:
                break
        else:
            for row, value in paths[i]:
                usage[row] += step * value
            amperes[i] = higher
            heappush(queue, (rank, higher / weights[i], i))
