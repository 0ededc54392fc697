"""The quarter hours that a plan is made of, by UTC.

A wall clock shows some quarters twice or not at all on the days it is changed; in UTC every one is there
once, so such a day has 100 or 92 of them by the site's clock and nothing needs to know.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

QUARTER = timedelta(minutes=15)
SLOTS = 96
SHORTEST_S = 60.0
"""What is left of the quarter that runs is a slot of its own, unless it is over before anybody could act."""


@dataclass(frozen=True, slots=True)
class Slots:
    """`edges`: where slots begin, and where the last one ends."""

    edges: tuple[datetime, ...]

    def __len__(self) -> int:
        return len(self.edges) - 1

    @property
    def hours(self) -> tuple[float, ...]:
        """Length of each slot."""
        return tuple((end - begin) / timedelta(hours=1) for begin, end in pairwise(self.edges))

    @property
    def edges_s(self) -> tuple[float, ...]:
        """The edges in seconds since 1970."""
        return tuple(edge.timestamp() for edge in self.edges)

    def whole_before(self, at: datetime) -> int:
        """How many slots are over by `at`."""
        return sum(1 for edge in self.edges[1:] if edge <= at)


def slots_from(now: datetime, count: int = SLOTS) -> Slots:
    """`count` slots from `now` on, cut at the quarters of the hour."""
    now = now.astimezone(UTC)
    floor = now.replace(minute=now.minute - now.minute % 15, second=0, microsecond=0)
    following = floor + QUARTER
    if (following - now).total_seconds() < SHORTEST_S:
        following += QUARTER
    return Slots((now, *(following + i * QUARTER for i in range(count))))
