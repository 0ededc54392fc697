"""What a station tells. Its answer carries nothing but the receipt, given after the commit."""

from dataclasses import dataclass
from datetime import datetime
from typing import get_args

from csms.stations.model import ChargingProfile, EvseStatus, Reading, VariableValue
from csms.stations.words import (
    battery,
    costs,
    der,
    display,
    firmware,
    limits,
    lists,
    monitoring,
    security,
)


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """A sign of life; the answer carries our time."""


@dataclass(frozen=True, slots=True)
class StatusReported:
    """State of one EVSE. `error` is the standard's error code, "" when none.

    An error with a status other than FAULTED is a warning. `vendor_error` and `info` are the
    maker's own words. `at` is None when the station gave no time.
    """

    evse: int
    connector: int
    status: EvseStatus
    error: str = ""
    info: str = ""
    vendor_error: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class MetersReported:
    """Readings of EVSE `evse` (0: the station's main meter; None: not said).

    `transaction_id` is the station's text of the transaction they belong to, if any.
    """

    evse: int | None
    readings: tuple[Reading, ...]
    transaction_id: str | None = None
    deviations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class VariablesReported:
    """One part of a report that we asked for by `request_id`; `last` ends it."""

    request_id: int
    sequence: int
    last: bool
    values: tuple[VariableValue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentAlert:
    """A component is in trouble, or (`cleared`) no longer. `evse` None: not one of an EVSE.

    `code` and `info` are the maker's words; `severity` from 0 (danger) to 9; None when not told.
    """

    path: str
    value: str | None
    evse: int | None = None
    cleared: bool = False
    severity: int | None = None
    code: str = ""
    info: str = ""
    monitor_id: int | None = None
    transaction_id: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class ComponentsReported:
    """Changes of components (OCPP 2.x NotifyEvent).

    Those that mean a status are in `statuses`, those that are alarms of the station in `alerts` as well.
    """

    statuses: tuple[StatusReported, ...]
    changes: tuple[VariableValue, ...]
    at: datetime | None = None
    alerts: tuple[ComponentAlert, ...] = ()


@dataclass(frozen=True, slots=True)
class ProfilesReported:
    """One part of the profiles that we asked for by `request_id`; `last` ends it."""

    request_id: int
    evse: int
    last: bool
    profiles: tuple[ChargingProfile, ...]


Event = (
    Heartbeat
    | StatusReported
    | MetersReported
    | VariablesReported
    | ComponentsReported
    | ProfilesReported
    | battery.BatterySwapped
    | costs.SettlementReported
    | der.DerAlarmReported
    | der.DerControlsReported
    | der.DerReported
    | display.DisplayMessagesReported
    | firmware.FirmwarePublished
    | firmware.FirmwareReported
    | firmware.LogReported
    | limits.EvScheduleReported
    | limits.LimitCleared
    | limits.LimitReported
    | limits.PriorityReported
    | lists.ReservationReported
    | monitoring.CustomerReported
    | monitoring.MonitorsReported
    | monitoring.StreamClosed
    | monitoring.StreamOpened
    | monitoring.StreamReported
    | security.SecurityEventReported
)

EVENTS: tuple[type[Event], ...] = get_args(Event)
"""Every kind of event."""
