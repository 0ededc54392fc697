"""What is simulated, as plain values. Currents in A per line, times aware, durations in seconds."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from csms.power.installation import System
from csms.power.steering.base_load import Counts
from csms.power.steering.timing import Timing


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A building meter: reports every `period_s`, and at once when a line has changed by more than
    `on_change_a` (None: never), `delay_s` late."""

    counts: Counts = Counts.BASE
    period_s: float = 10.0
    on_change_a: float | None = 0.5
    delay_s: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """`device_a`: rating of the breaker. `worst_base_a`: what is assumed when nothing measures it."""

    id: str
    fed_from: str | None
    limit_a: float
    device_a: float
    worst_base_a: float = 0.0
    meter: Meter | None = None


class Use(StrEnum):
    """Who may stand at a station."""

    CARS = "cars"
    VANS = "vans"
    ALL = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One bay. `rotation`: the supply's lines (0, 1, 2) at its terminals."""

    id: str
    circuit: str
    rotation: tuple[int, int, int] = (0, 1, 2)
    max_current_a: float = 32.0
    step_a: float = 0.1
    fallback_a: float = 0.0
    keeps_profiles: bool = True
    use: Use = Use.ALL


class LoadKind(StrEnum):
    CONSTANT = "constant"
    PROFILE = "profile"
    WEAVERS_YARD = "weavers_yard"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Every day from `at_s` after midnight, for `lasts_s`, `current_a` more on those lines."""

    at_s: float
    lasts_s: float
    current_a: float
    lines: tuple[int, ...] = (0, 1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseLoad:
    """CONSTANT: `current_a` per line. PROFILE: `hourly_a`, one value per hour of the day for each line.
    WEAVERS_YARD: the common parts of so many `houses`, with lifts and dryers. `steps` come on top."""

    circuit: str
    kind: LoadKind = LoadKind.CONSTANT
    current_a: float = 0.0
    hourly_a: tuple[float, ...] = ()
    houses: int = 1
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A car of model number `model` (see `arrivals.MODELS`) stands here and needs `energy_wh`. `bay`: which
    of those for its use it takes if that is free (counted from 0); else, or where it is None, the first."""

    model: int
    arrives_at: datetime
    departs_at: datetime
    energy_wh: float
    use: Use = Use.CARS
    bay: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrivals:
    """`visits` as given, and those that the mobility model draws for so many cars and vans, whose needs
    are multiplied with `energy_factor`. `ignoring`, `sleepy`: shares of the visits whose cars ignore the
    pilot, or do not wake from a pause longer than a quarter hour."""

    visits: tuple[Visit, ...] = ()
    cars: int = 0
    vans: int = 0
    energy_factor: float = 1.0
    ignoring: float = 0.0
    sleepy: float = 0.0
    van_priority: int = 0


class Trouble(StrEnum):
    """METER_SILENT: the meter of `circuit` says nothing. STATIONS_OFFLINE: a share of the stations has no
    link. STATIONS_REBOOT: they start anew. SERVER_KILLED: all that our process knew is gone for `lasts_s`;
    with `while_raising` at the first raise on its way after `at`."""

    METER_SILENT = "meter_silent"
    STATIONS_OFFLINE = "stations_offline"
    STATIONS_REBOOT = "stations_reboot"
    SERVER_KILLED = "server_killed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    kind: Trouble
    at: datetime
    lasts_s: float = 60.0
    circuit: str | None = None
    share: float = 1.0
    while_raising: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Messages:
    """`delay_s`: the way of a message, at least and at most. `lost`: share that never arrives, or whose
    answer does not; `timeout_s`: how long an answer is waited for."""

    delay_s: tuple[float, float] = (0.05, 0.5)
    lost: float = 0.0
    timeout_s: float = 30.0
    sample_s: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """Everything. `planned`: cars tell their need and departure, and the product's planner plans them.
    `idle_look_s`: without news the decision is asked no more often than this; 1 s is the product's own pace,
    more makes long runs fast."""

    name: str
    system: System = System.TN_400
    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("Europe/Amsterdam"))
    first_day: date
    days: int = 1
    seed: int = 1
    delta_margin: float = 0.08
    circuits: tuple[Circuit, ...]
    stations: tuple[Station, ...]
    loads: tuple[BaseLoad, ...] = ()
    arrivals: Arrivals = field(default_factory=Arrivals)
    disturbances: tuple[Disturbance, ...] = ()
    messages: Messages = field(default_factory=Messages)
    timing: Timing = field(default_factory=Timing)
    planned: bool = False
    idle_look_s: float = 1.0

    @property
    def starts_at(self) -> datetime:
        """Local midnight of the first day."""
        return datetime(self.first_day.year, self.first_day.month, self.first_day.day, tzinfo=self.zone)

    @property
    def starts_s(self) -> float:
        return self.starts_at.timestamp()

    @property
    def ends_s(self) -> float:
        return self.starts_s + self.days * 86_400.0

    def circuit(self, circuit_id: str) -> Circuit:
        """KeyError when there is none."""
        return next((c for c in self.circuits if c.id == circuit_id), None) or _missing(circuit_id)

    def way_up(self, circuit_id: str) -> tuple[str, ...]:
        """That circuit and all above it."""
        feeds = {c.id: c.fed_from for c in self.circuits}
        way: list[str] = []
        at: str | None = circuit_id
        while at is not None:
            way.append(at)
            at = feeds[at]
        return tuple(way)


def _missing(circuit_id: str) -> Circuit:
    raise KeyError(circuit_id)
