"""Pauses: a car that has had enough is idle, one that waits for us is not.

Two kinds may be open at once. `by_us`: the sharing of the supply, or the station's own side, holds
the car back (our offer is 0, or the station says so). Not `by_us`: the car asks for nothing.
Time in which we held it back is never idle time, whatever the car said meanwhile.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

from csms.stations.model import ChargingState


@dataclass(frozen=True, slots=True)
class Pause:
    """From `from_at` to `to_at` (None: still)."""

    from_at: datetime
    to_at: datetime | None
    by_us: bool


def turn(
    running: Sequence[Pause], *, charging: ChargingState, held: bool, at: datetime
) -> tuple[list[Pause], list[Pause]]:
    """Pauses that are over and pauses that begin, given those that are running.

    `held`: our offer leaves the car without current.
    """
    wanted = set()
    if held or charging is ChargingState.SUSPENDED_EVSE:
        wanted.add(True)
    if charging is ChargingState.SUSPENDED_EV:
        wanted.add(False)
    over = [replace(p, to_at=max(at, p.from_at)) for p in running if p.by_us not in wanted]
    begin = [Pause(at, None, by_us) for by_us in sorted(wanted - {p.by_us for p in running})]
    return over, begin


def idle(pauses: Iterable[Pause], until: datetime) -> list[tuple[datetime, datetime]]:
    """Intervals in which the car asked for nothing and we did not hold it back, in order."""
    spans = [(p.from_at, p.to_at or until, p.by_us) for p in pauses]
    edges = sorted({edge for low, high, _ in spans for edge in (low, high)})
    found: list[tuple[datetime, datetime]] = []
    for low, high in pairwise(edges):
        over = [by_us for a, b, by_us in spans if a <= low and high <= b]
        if not over or any(over):
            continue
        if found and found[-1][1] == low:
            found[-1] = (found[-1][0], high)
        else:
            found.append((low, high))
    return found


def idle_time(pauses: Iterable[Pause], until: datetime) -> timedelta:
    """How long the car was idle in all."""
    return sum((high - low for low, high in idle(pauses, until)), timedelta())
