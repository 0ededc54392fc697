"""The nouns that questions, events and commands are made of."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from csms.stations.signed import SignedValue

PerLine = tuple[float | None, float | None, float | None]
"""One value for each of the station's own L1, L2, L3; None where it was not reported (never zero)."""

NO_LINES: PerLine = (None, None, None)


class Registration(StrEnum):
    """Whether a station may take part; kept with the station, not with its socket."""

    ACCEPTED = "accepted"
    PENDING = "pending"
    REJECTED = "rejected"


class EvseStatus(StrEnum):
    """State of an EVSE. OCPP 2.x knows only OCCUPIED where 1.6 tells more."""

    AVAILABLE = "available"
    PREPARING = "preparing"
    OCCUPIED = "occupied"
    CHARGING = "charging"
    SUSPENDED_EV = "suspended_ev"
    SUSPENDED_EVSE = "suspended_evse"
    FINISHING = "finishing"
    RESERVED = "reserved"
    UNAVAILABLE = "unavailable"
    FAULTED = "faulted"


class ChargingState(StrEnum):
    """What the car does inside a transaction (OCPP 2.x chargingState)."""

    IDLE = "idle"
    CONNECTED = "connected"
    CHARGING = "charging"
    SUSPENDED_EV = "suspended_ev"
    SUSPENDED_EVSE = "suspended_evse"


class TokenKind(StrEnum):
    """How the token was presented."""

    RFID = "rfid"
    EMAID = "emaid"
    KEY_CODE = "key_code"
    CENTRAL = "central"
    LOCAL = "local"
    MAC_ADDRESS = "mac_address"
    NONE = "none"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class TokenRef:
    """A token as the station spelled it. Compare by `csms.access`' folded form, never by `text`."""

    text: str
    kind: TokenKind = TokenKind.RFID


class Verdict(StrEnum):
    """What a station is told about a token. The finer reason stays with us (`csms.access`)."""

    ACCEPTED = "accepted"
    BLOCKED = "blocked"
    EXPIRED = "expired"
    UNKNOWN = "unknown"
    CONCURRENT = "concurrent"
    NOT_HERE = "not_here"
    NOT_NOW = "not_now"


@dataclass(frozen=True, slots=True)
class TokenAnswer:
    """The verdict and what a station may keep of it. `group` is the parent (group) token's text."""

    verdict: Verdict
    expires_at: datetime | None = None
    group: str | None = None


class ReadingContext(StrEnum):
    """Why a reading was taken."""

    BEGIN = "begin"
    PERIODIC = "periodic"
    CLOCK = "clock"
    END = "end"
    TRIGGER = "trigger"
    INTERRUPTION_BEGIN = "interruption_begin"
    INTERRUPTION_END = "interruption_end"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter showed at one instant, one value per quantity.

    `register_wh` is the total active import register in Wh, rounded half up to the unit.
    Currents, voltages and powers are per the *station's* line; `power_w` is the total.
    `signed` are its signed records, kept verbatim. What has no place here is in `others`
    as (measurand, phase, unit, value) with the sender's own words.
    """

    at: datetime
    context: ReadingContext = ReadingContext.PERIODIC
    register_wh: int | None = None
    power_w: float | None = None
    current_a: PerLine = NO_LINES
    voltage_v: PerLine = NO_LINES
    line_power_w: PerLine = NO_LINES
    offered_a: float | None = None
    temperature_c: float | None = None
    soc_percent: float | None = None
    signed: tuple[SignedValue, ...] = ()
    others: tuple[tuple[str, str, str, str], ...] = ()


class StopReason(StrEnum):
    """Why a transaction ended."""

    LOCAL = "local"
    REMOTE = "remote"
    DEAUTHORIZED = "deauthorized"
    EV_DISCONNECTED = "ev_disconnected"
    STOPPED_BY_EV = "stopped_by_ev"
    LIMIT_REACHED = "limit_reached"
    EMERGENCY_STOP = "emergency_stop"
    GROUND_FAULT = "ground_fault"
    OVERCURRENT = "overcurrent"
    POWER_LOSS = "power_loss"
    POWER_QUALITY = "power_quality"
    REBOOT = "reboot"
    RESET = "reset"
    TIMEOUT = "timeout"
    UNLOCK = "unlock"
    OTHER = "other"


class ProfilePurpose(StrEnum):
    """What a charging profile limits (OCPP smart charging); the last two are OCPP 2.1's.

    PRIORITY overrules the others while it is turned on; LOCAL_GENERATION adds to what the others allow.
    """

    STATION_MAX = "station_max"
    TX_DEFAULT = "tx_default"
    TX = "tx"
    EXTERNAL = "external"
    PRIORITY = "priority"
    LOCAL_GENERATION = "local_generation"


class ProfileKind(StrEnum):
    """DYNAMIC (OCPP 2.1): one period, whose values change as it runs."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"
    DAILY = "daily"
    WEEKLY = "weekly"
    DYNAMIC = "dynamic"


class RateUnit(StrEnum):
    """A: per line. W: total over all lines."""

    AMPERE = "A"
    WATT = "W"


@dataclass(frozen=True, slots=True)
class ProfilePeriod:
    """From `start_s` seconds after the schedule's start the car may take `limit`.

    `limit_l2`, `limit_l3` where those lines have their own; `discharge_limit` (0 or less) and `setpoint`
    for cars that feed back (all OCPP 2.1).
    """

    start_s: int
    limit: float
    phases: int | None = None
    phase_to_use: int | None = None
    limit_l2: float | None = None
    limit_l3: float | None = None
    discharge_limit: float | None = None
    setpoint: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingProfile:
    """A limit over time, as stations keep it.

    Of profiles with one purpose the highest `stack_level` that has a period now leads.
    `duration_s` None: the last period goes on. `transaction_id` is the station's text. `max_offline_s`:
    it is not valid once the station has been off line for so long, `void_after_offline`: nor ever again
    after that (OCPP 2.1 only; other versions leave both out).
    """

    id: int
    stack_level: int
    purpose: ProfilePurpose
    kind: ProfileKind
    periods: tuple[ProfilePeriod, ...]
    unit: RateUnit = RateUnit.AMPERE
    start_at: datetime | None = None
    duration_s: int | None = None
    valid_from: datetime | None = None
    valid_to: datetime | None = None
    transaction_id: str | None = None
    most_offline_s: int | None = None
    ends_offline: bool = False
    update_every_s: int | None = None
    updated_at: datetime | None = None
    random_delay_s: int | None = None
    local_time: bool = False
    max_offline_s: int | None = None
    void_after_offline: bool = False


@dataclass(frozen=True, slots=True)
class VariableValue:
    """One variable of a station in neutral form.

    An OCPP 1.6 configuration key is a variable with an empty component. `value` None: not
    known or not readable. `path` spells it `component#instance@evse.connector/variable#instance`.
    """

    path: str
    value: str | None
    readonly: bool = False


@dataclass(frozen=True, slots=True)
class CompositeSchedule:
    """The limits a station says it will apply from `start_at` on, `duration_s` long."""

    start_at: datetime | None
    duration_s: int
    unit: RateUnit
    periods: tuple[ProfilePeriod, ...]
