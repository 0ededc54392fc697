"""What the grid asks of cars that feed back: curves and set points (OCPP 2.1, block R).

Values are in the units that each control has by itself: percent of the rating, V, Hz, seconds.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class DerKind(StrEnum):
    ENTER_SERVICE = "enter_service"
    FREQ_DROOP = "freq_droop"
    FREQ_WATT = "freq_watt"
    FIXED_PF_ABSORB = "fixed_pf_absorb"
    FIXED_PF_INJECT = "fixed_pf_inject"
    FIXED_VAR = "fixed_var"
    GRADIENTS = "gradients"
    HF_MUST_TRIP = "hf_must_trip"
    HF_MAY_TRIP = "hf_may_trip"
    HV_MUST_TRIP = "hv_must_trip"
    HV_MOM_CESS = "hv_mom_cess"
    HV_MAY_TRIP = "hv_may_trip"
    LIMIT_MAX_DISCHARGE = "limit_max_discharge"
    LF_MUST_TRIP = "lf_must_trip"
    LV_MUST_TRIP = "lv_must_trip"
    LV_MOM_CESS = "lv_mom_cess"
    LV_MAY_TRIP = "lv_may_trip"
    POWER_MONITORING_MUST_TRIP = "power_monitoring_must_trip"
    VOLT_VAR = "volt_var"
    VOLT_WATT = "volt_watt"
    WATT_PF = "watt_pf"
    WATT_VAR = "watt_var"


class DerUnit(StrEnum):
    NOT_APPLICABLE = "not_applicable"
    PCT_MAX_W = "pct_max_w"
    PCT_MAX_VAR = "pct_max_var"
    PCT_W_AVAIL = "pct_w_avail"
    PCT_VAR_AVAIL = "pct_var_avail"
    PCT_EFFECTIVE_V = "pct_effective_v"


class CessationPower(StrEnum):
    ACTIVE = "active"
    REACTIVE = "reactive"


@dataclass(frozen=True, slots=True)
class DerPoint:
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Hysteresis:
    hysteresis_high: float | None = None
    hysteresis_low: float | None = None
    hysteresis_delay_s: float | None = None
    hysteresis_gradient: float | None = None


@dataclass(frozen=True, slots=True)
class ReactivePower:
    v_ref: float | None = None
    autonomous_v_ref_enable: bool = False
    autonomous_v_ref_time_constant: float | None = None


@dataclass(frozen=True, slots=True)
class VoltageLimits:
    hv10_min_mean_value: float | None = None
    hv10_min_mean_trip_delay_s: float | None = None
    power_during_cessation: CessationPower | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DerCurve:
    points: tuple[DerPoint, ...]
    priority: int
    y_unit: DerUnit
    hysteresis: Hysteresis | None = None
    reactive_power: ReactivePower | None = None
    voltage: VoltageLimits | None = None
    response_time_s: float | None = None
    start_at: datetime | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EnterService:
    priority: int
    high_voltage: float
    low_voltage: float
    high_freq: float
    low_freq: float
    delay_s: float | None = None
    random_delay_s: float | None = None
    ramp_rate: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedPf:
    """A power factor: `displacement` from 0 to 1, over-excited or not."""

    priority: int
    displacement: float
    excitation: bool
    start_at: datetime | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedVar:
    priority: int
    setpoint: float
    unit: DerUnit
    start_at: datetime | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FreqDroop:
    priority: int
    over_freq: float
    under_freq: float
    over_droop: float
    under_droop: float
    response_time_s: float
    start_at: datetime | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gradient:
    priority: int
    gradient: float
    soft_gradient: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitMaxDischarge:
    priority: int
    pct_max_discharge_power: float | None = None
    power_monitoring_must_trip: DerCurve | None = None
    start_at: datetime | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetDerControl:
    """Set one control of `kind`; the part that belongs to the kind must be given.

    `data` of the result: the ids of those that rest from now on.
    """

    control_id: str
    kind: DerKind
    default: bool = False
    curve: DerCurve | None = None
    enter_service: EnterService | None = None
    fixed_pf_absorb: FixedPf | None = None
    fixed_pf_inject: FixedPf | None = None
    fixed_var: FixedVar | None = None
    freq_droop: FreqDroop | None = None
    gradient: Gradient | None = None
    limit_max_discharge: LimitMaxDischarge | None = None


@dataclass(frozen=True, slots=True)
class GetDerControls:
    """They come as DerControlsReported."""

    request_id: int
    default: bool | None = None
    kind: DerKind | None = None
    control_id: str = ""


@dataclass(frozen=True, slots=True)
class ClearDerControl:
    default: bool
    kind: DerKind | None = None
    control_id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DerControl:
    """A control as a station has it; `kind` is the kind of a curve, else the name of the part."""

    id: str
    kind: str
    default: bool = False
    superseded: bool = False
    curve: DerCurve | None = None
    enter_service: EnterService | None = None
    fixed_pf: FixedPf | None = None
    fixed_var: FixedVar | None = None
    freq_droop: FreqDroop | None = None
    gradient: Gradient | None = None
    limit_max_discharge: LimitMaxDischarge | None = None


@dataclass(frozen=True, slots=True)
class DerControlsReported:
    """One part of the controls that we asked for by `request_id`."""

    request_id: int
    last: bool
    controls: tuple[DerControl, ...] = ()


@dataclass(frozen=True, slots=True)
class DerAlarmReported:
    """A control met a fault of the grid (`fault`), or the fault is over."""

    kind: str
    at: datetime
    fault: str = ""
    ended: bool = False
    info: str = ""


@dataclass(frozen=True, slots=True)
class DerReported:
    """A control began or ended; those in `superseded` rest meanwhile."""

    control_id: str
    started: bool
    at: datetime
    superseded: tuple[str, ...] = ()
