"""Who waited how long, against an equal car that stood there at the same time.

Two cars are equal when they are of one kind (lines and highest current), of one priority, and on one
board at the same lines, so that one could have had what the other had. Over the time in which both
still needed energy, waiting (no pilot) is compared. The bar is two rotation periods.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from tools.simulation.places import Stay

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Envy:
    """`waited_longer_s`: how much longer one car waited than an equal one, and the cars' transactions."""

    waited_longer_s: float = 0.0
    longer: str = ""
    shorter: str = ""


def longest_wait_s(stays: Iterable[Stay]) -> float:
    """The longest wait without a break."""
    return max((end - begin for stay in stays for begin, end in stay.waited), default=0.0)


def worst(stays: Iterable[Stay]) -> Envy:
    """The pair of equal cars whose waiting differs most."""
    groups: dict[object, list[Stay]] = defaultdict(list)
    for stay in stays:
        model = stay.arrival.model
        lines = sorted(stay.place.station.rotation[: model.lines])
        key = (stay.place.station.circuit, tuple(lines), model.max_current_a, stay.arrival.priority)
        groups[key].append(stay)
    found = Envy()
    for group in groups.values():
        for one, other in combinations(group, 2):
            begin = max(one.began_s, other.began_s)
            end = min(_wanted_until(one), _wanted_until(other))
            if end <= begin:
                continue
            a, b = overlap_s(one.waited, begin, end), overlap_s(other.waited, begin, end)
            if abs(a - b) > found.waited_longer_s:
                longer, shorter = (one, other) if a > b else (other, one)
                found = Envy(abs(a - b), longer.transaction, shorter.transaction)
    return found


def overlap_s(spans: Sequence[Span], begin: float, end: float) -> float:
    """How much of the spans lies between."""
    return sum(max(0.0, min(until, end) - max(since, begin)) for since, until in spans)


def _wanted_until(stay: Stay) -> float:
    return min(stay.done_s, stay.ends_s if not math.isinf(stay.ends_s) else stay.done_s)
