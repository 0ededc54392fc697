"""What the page and the API can read of a site: every figure that a decision rests on."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from csms.power.demand import Bound
from csms.power.installation import Evse, Line


class BayState(StrEnum):
    """How a bay stands with us."""

    EMPTY = "empty"
    CHARGING = "charging"
    WAITING = "waiting"
    FULL = "full"
    UNREACHABLE = "unreachable"
    REFUSING = "refusing"
    IGNORING = "ignoring"


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitShown:
    """A per line: the limit, the building's base load, what the cars were last measured to draw (0
    where nothing is known), and what they may be drawing by our promises. `meter_fresh` None: no meter
    here."""

    id: str
    limit_a: Mapping[Line, float]
    base_a: Mapping[Line, float]
    drawn_a: Mapping[Line, float]
    promised_a: Mapping[Line, float]
    meter_fresh: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BayShown:
    """`offer_a`: the live offer last sent (None: none), and whether it is `confirmed`. `counts_a`: what
    the bay counts with. `why`: what bound the offer, or why the car waits, since `waiting_since_s`."""

    evse: Evse
    state: BayState
    offer_a: float | None
    confirmed: bool
    target_a: float
    counts_a: float
    measured_a: float | None
    lines: tuple[Line, ...]
    why: Bound | None
    waiting_since_s: float | None
    safe_in_silence: bool


@dataclass(frozen=True, slots=True)
class SiteShown:
    """A site at `at_s`. `picture_full` False: after a restart, nothing is raised yet."""

    at_s: float
    circuits: tuple[CircuitShown, ...]
    bays: tuple[BayShown, ...]
    picture_full: bool
