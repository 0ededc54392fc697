"""What one car asks of the allocator, and what bounds it."""

from dataclasses import dataclass
from enum import StrEnum

from csms.power.installation import Line, System
from csms.units import LOWEST_CURRENT_A


class Connection(StrEnum):
    """How a car loads the lines it is given; its amperes are those of one conductor of its own.

    LINES: each line against neutral (star). PAIR: between two lines. BALANCED: three lines alike.
    OPEN_DELTA: [a, b, common] carries x on a and b and sqrt(3) x on the common line.
    """

    LINES = "lines"
    PAIR = "pair"
    BALANCED = "balanced"
    OPEN_DELTA = "open_delta"


def usual_connection(system: System, lines: tuple[Line, ...]) -> Connection:
    """How a car on `lines` connects unless it is known better."""
    if not system.is_delta:
        return Connection.LINES
    return Connection.PAIR if len(lines) == 2 else Connection.BALANCED


class BoundKind(StrEnum):
    """What kept an offer from being higher; the second group: why there is none.

    PLAN and UNBALANCE can also be why there is none: not in this hour, and more would only make the
    lines more unequal.
    """

    CAR_MAXIMUM = "car_maximum"
    STATION = "station"
    PLAN = "plan"
    CIRCUIT_LINE = "circuit_line"
    CAP = "cap"
    UNBALANCE = "unbalance"

    WAITING = "waiting"
    LINE_MISSING = "line_missing"
    MAXIMUM_TOO_LOW = "maximum_too_low"


@dataclass(frozen=True, slots=True)
class Bound:
    """A reason; `circuit` and `line` where one has to do with it (a cap has no line)."""

    kind: BoundKind
    circuit: str | None = None
    line: Line | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """A fixed current that is counted before anybody is given anything: A per own conductor."""

    circuit: str
    lines: tuple[Line, ...]
    connection: Connection
    current_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A car that wants current: at least `min_a` or nothing, at most `max_a`, per own conductor.

    Served first: who is `held`, then the higher `priority`, then who `keeps_turn`, then the longer
    `waiting_s`, then the least `energy_served_wh`, then the smaller id. `maximum_is` names what sets
    `max_a`. `step_a`: the offer is a multiple of it; 0 is exact. `connection` None: the usual one of the
    system.

    `held`: it may draw `min_a` whatever we say. `share_class`: the class that the priority strategy
    goes by (None: `priority`, which may hold more than the class of the car's group). `connected_s`: how
    long the car has been here. `plan_a`: the plan's target, for the strategy that looks at it. `choices`:
    the lines from which a single-phase car's station can choose (star only, and only while the car does
    not charge: a line is not changed under load); empty: `lines` it is.
    """

    id: str
    circuit: str
    lines: tuple[Line, ...]
    connection: Connection | None = None
    min_a: float = LOWEST_CURRENT_A
    max_a: float = 32.0
    weight: float = 1.0
    priority: int = 0
    waiting_s: float = 0.0
    energy_served_wh: float = 0.0
    keeps_turn: bool = False
    step_a: float = 0.0
    maximum_is: BoundKind = BoundKind.CAR_MAXIMUM
    held: bool = False
    share_class: int | None = None
    connected_s: float = 0.0
    plan_a: float | None = None
    choices: tuple[Line, ...] = ()
