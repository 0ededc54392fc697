"""Limits of others, the car's own schedule, schedules that change as they run (OCPP blocks K and Q)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from csms.stations.model import ProfilePeriod, RateUnit


@dataclass(frozen=True, slots=True)
class Schedule:
    """A limit over time that is not ours."""

    id: int
    unit: RateUnit
    periods: tuple[ProfilePeriod, ...]
    start_at: datetime | None = None
    duration_s: int | None = None
    lowest: float | None = None


@dataclass(frozen=True, slots=True)
class LimitReported:
    """Somebody else (`source`: EMS, SO, CSO, Other) limits the station; `evse` None: all of it."""

    source: str
    evse: int | None = None
    grid_critical: bool = False
    local_generation: bool = False
    schedules: tuple[Schedule, ...] = ()


@dataclass(frozen=True, slots=True)
class LimitCleared:
    source: str
    evse: int | None = None


@dataclass(frozen=True, slots=True)
class EvScheduleReported:
    """How the car means to charge, counted from `at` (ISO 15118)."""

    evse: int
    at: datetime
    schedule: Schedule
    selected_id: int | None = None


@dataclass(frozen=True, slots=True)
class ScheduleUpdate:
    """New values of a dynamic profile, in its unit; None: as before. What we take out is negative."""

    limit: float | None = None
    limit_l2: float | None = None
    limit_l3: float | None = None
    discharge_limit: float | None = None
    discharge_limit_l2: float | None = None
    discharge_limit_l3: float | None = None
    setpoint: float | None = None
    setpoint_l2: float | None = None
    setpoint_l3: float | None = None
    setpoint_reactive: float | None = None
    setpoint_reactive_l2: float | None = None
    setpoint_reactive_l3: float | None = None


@dataclass(frozen=True, slots=True)
class UpdateSchedule:
    """Change a dynamic profile at once, without sending it anew (OCPP 2.1, K28)."""

    profile_id: int
    update: ScheduleUpdate


@dataclass(frozen=True, slots=True)
class ScheduleUpdateAsked:
    """A station wants the values of its dynamic profile (K29). Answer: ScheduleUpdateAnswer."""

    profile_id: int


@dataclass(frozen=True, slots=True)
class ScheduleUpdateAnswer:
    """`update` None: we do not know that profile."""

    update: ScheduleUpdate | None = None


@dataclass(frozen=True, slots=True)
class UsePriority:
    """Charge with the priority profile, or as before (K21)."""

    transaction_id: str
    activate: bool = True


@dataclass(frozen=True, slots=True)
class PriorityReported:
    """A driver turned priority on or off at the station (K22)."""

    transaction_id: str
    activated: bool


class EnergyTransfer(StrEnum):
    AC_SINGLE_PHASE = "ac_single_phase"
    AC_TWO_PHASE = "ac_two_phase"
    AC_THREE_PHASE = "ac_three_phase"
    DC = "dc"
    AC_BPT = "ac_bpt"
    AC_BPT_DER = "ac_bpt_der"
    AC_DER = "ac_der"
    DC_BPT = "dc_bpt"
    DC_ACDP = "dc_acdp"
    DC_ACDP_BPT = "dc_acdp_bpt"
    WPT = "wpt"


@dataclass(frozen=True, slots=True)
class AllowEnergyTransfer:
    """Which ways of transfer a car may use in a transaction."""

    transaction_id: str
    modes: tuple[EnergyTransfer, ...]


@dataclass(frozen=True, slots=True)
class SendBalancingSignal:
    """The grid's frequency restoration signal (aFRR); what it means is in the profile's curve."""

    at: datetime
    signal: int
