"""How a figure is taken: processor time of this whole process, several rounds, the median."""

import statistics
import time
from collections.abc import Awaitable, Callable


async def cpu_us(
    round_of: Callable[[], Awaitable[int]], rounds: int, prepare: Callable[[], None] = lambda: None
) -> list[float]:
    """Microseconds of processor time (all threads) per unit, for each round; the first is a warm-up.

    `round_of` does a round and returns how many units it did; `prepare` runs before it, unmeasured.
    """
    figures = []
    for number in range(rounds + 1):
        prepare()
        before = time.process_time()
        units = await round_of()
        spent = time.process_time() - before
        if number:
            figures.append(spent / units * 1e6)
    return figures


def spread(figures: list[float]) -> str:
    """Median with the lowest and the highest."""
    return f"{statistics.median(figures):8.1f}  ({min(figures):.1f} to {max(figures):.1f})"
