"""What tells one way to share from another. The limits are the allocator's alone and hold for all.

A strategy may look at a demand in its own way (no weights, the plan's target as maximum, ...) and may
rank the cars that run: everybody has the minimum, then the lower rank takes what it can before the next.
Cars of one rank share by weighted max-min fairness.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from csms.power.sharing.demand import Demand

Rank = tuple[float, str]


class Fairness(StrEnum):
    """What is shared evenly: a car's amperes per conductor, or its power."""

    AMPERES = "amperes"
    KILOWATTS = "kilowatts"


@dataclass(frozen=True, slots=True)
class Strategy:
    """`about`: one sentence for a person. `sees` None: demands as they are. `rank` None: all alike."""

    name: str
    about: str
    sees: "Callable[[Demand], Demand] | None" = None
    rank: "Callable[[Demand], Rank] | None" = None
