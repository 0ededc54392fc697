"""Which messages of a transaction have come, by their numbers (OCPP 2.x seqNo).

Kept as runs of numbers in a row. The standard lets numbers start anywhere and have gaps; they
serve completeness only, never order of effect.
"""

from collections.abc import Sequence

Runs = tuple[tuple[int, int], ...]
"""Inclusive runs in order, apart from each other by at least one missing number."""

LARGEST = 2**31 - 1
MOST_RUNS = 50
"""A counter that jumps about says nothing; only so many runs are kept, the latest."""


def seen(runs: Runs, number: int) -> Runs:
    """`runs` with `number` in them."""
    numbers = [*runs, (number, number)]
    numbers.sort()
    joined: list[tuple[int, int]] = []
    for low, high in numbers:
        if joined and low <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return tuple(joined[-MOST_RUNS:])


def restored(kept: Sequence[Sequence[int]] | None, last: int | None) -> Runs:
    """The runs as they were stored: those of a session with a gap, else all up to the last number."""
    if kept:
        return tuple((int(low), int(high)) for low, high in kept)
    return () if last is None else ((min(0, last), last),)


def missing(runs: Runs) -> int:
    """How many numbers are missing between the first and the last."""
    if not runs:
        return 0
    return runs[-1][1] - runs[0][0] + 1 - sum(high - low + 1 for low, high in runs)
