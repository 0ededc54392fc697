"""Reports of chosen variables, monitors of variables, their streams, customer data (blocks B and N)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from csms.stations.model import TokenRef
from csms.stations.words.security import CertificateHash


class ComponentCriterion(StrEnum):
    ACTIVE = "active"
    AVAILABLE = "available"
    ENABLED = "enabled"
    PROBLEM = "problem"


class MonitorCriterion(StrEnum):
    THRESHOLD = "threshold_monitoring"
    DELTA = "delta_monitoring"
    PERIODIC = "periodic_monitoring"


class MonitoringBase(StrEnum):
    ALL = "all"
    FACTORY_DEFAULT = "factory_default"
    HARD_WIRED_ONLY = "hard_wired_only"


class MonitorKind(StrEnum):
    UPPER_THRESHOLD = "upper_threshold"
    LOWER_THRESHOLD = "lower_threshold"
    DELTA = "delta"
    PERIODIC = "periodic"
    PERIODIC_CLOCK_ALIGNED = "periodic_clock_aligned"
    TARGET_DELTA = "target_delta"
    TARGET_DELTA_RELATIVE = "target_delta_relative"


@dataclass(frozen=True, slots=True)
class StreamRate:
    """Send a stream's values after so many seconds, or when there are so many."""

    interval_s: int | None = None
    values: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitor:
    """Watch the variable at `path`. `severity`: 0 (danger) to 9 (debug). `id` None: a new one."""

    path: str
    kind: MonitorKind
    value: float
    severity: int
    id: int | None = None
    transaction: bool = False
    stream: StreamRate | None = None


@dataclass(frozen=True, slots=True)
class MonitorResult:
    """What became of one monitor: `id` where it was set or cleared, `status` in the station's word."""

    status: str
    id: int | None = None
    path: str = ""


@dataclass(frozen=True, slots=True)
class ReportedMonitor:
    """A monitor as a station has it; `origin` says who made it."""

    path: str
    id: int
    kind: str
    value: float
    severity: int
    transaction: bool = False
    origin: str = ""


@dataclass(frozen=True, slots=True)
class MonitorsReported:
    """One part of the monitors that we asked for by `request_id`."""

    request_id: int
    sequence: int
    last: bool
    monitors: tuple[ReportedMonitor, ...] = ()


@dataclass(frozen=True, slots=True)
class CustomerReported:
    """One part of what a station keeps about a customer, as its text."""

    request_id: int
    sequence: int
    last: bool
    data: str
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Stream:
    """A stream of a monitor's values."""

    id: int
    monitor_id: int
    rate: StreamRate = StreamRate()


@dataclass(frozen=True, slots=True)
class StreamOpened:
    stream: Stream


@dataclass(frozen=True, slots=True)
class StreamClosed:
    id: int


@dataclass(frozen=True, slots=True)
class StreamSample:
    """`after_s`: seconds after the stream's `at`."""

    after_s: float
    value: str


@dataclass(frozen=True, slots=True)
class StreamReported:
    """Values of a stream; `pending`: how many more wait at the station."""

    id: int
    at: datetime
    pending: int
    samples: tuple[StreamSample, ...] = ()


@dataclass(frozen=True, slots=True)
class GetPartReport:
    """Ask for some of the device model; it comes as VariablesReported.

    `paths` as in VariableValue, or a component alone. Neither paths nor criteria: everything.
    """

    request_id: int
    paths: tuple[str, ...] = ()
    criteria: tuple[ComponentCriterion, ...] = ()


@dataclass(frozen=True, slots=True)
class GetMonitors:
    """Ask for the monitors; they come as MonitorsReported. `paths` as in GetPartReport."""

    request_id: int
    paths: tuple[str, ...] = ()
    criteria: tuple[MonitorCriterion, ...] = ()


@dataclass(frozen=True, slots=True)
class SetMonitoringBase:
    """Which monitors the station begins with anew."""

    base: MonitoringBase


@dataclass(frozen=True, slots=True)
class SetMonitoringLevel:
    """Tell only of monitors of this `severity` (0 to 9) and graver ones."""

    severity: int


@dataclass(frozen=True, slots=True)
class SetMonitors:
    """`data`: tuple[MonitorResult, ...]."""

    monitors: tuple[Monitor, ...]


@dataclass(frozen=True, slots=True)
class ClearMonitors:
    """`data`: tuple[MonitorResult, ...]."""

    ids: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskCustomer:
    """What the station keeps about a customer: tell it (`report`), forget it (`clear`), or both.

    The customer is named by one of `customer`, `token` and `certificate`.
    """

    request_id: int
    report: bool = False
    clear: bool = False
    customer: str = ""
    token: TokenRef | None = None
    certificate: CertificateHash | None = None


@dataclass(frozen=True, slots=True)
class GetStreams:
    """`data`: tuple[Stream, ...]."""


@dataclass(frozen=True, slots=True)
class AdjustStream:
    id: int
    rate: StreamRate
