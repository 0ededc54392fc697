"""What we ask of a station, and what comes back.

A command never raises for a refusal: the result says what the station answered, in our words
(`status`) and in its own (`detail`). Errors are for a station that cannot be asked.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import get_args

from csms.stations.model import (
    ChargingProfile,
    ProfilePurpose,
    RateUnit,
    TokenRef,
    VariableValue,
)
from csms.stations.words import (
    battery,
    costs,
    der,
    display,
    firmware,
    limits,
    lists,
    monitoring,
    network,
    security,
)


class CommandStatus(StrEnum):
    """`ACCEPTED` often means only "will try"; look at what the station tells afterwards."""

    ACCEPTED = "accepted"
    SCHEDULED = "scheduled"
    REBOOT_REQUIRED = "reboot_required"
    REJECTED = "rejected"
    FAILED = "failed"
    UNKNOWN = "unknown"
    UNSUPPORTED = "unsupported"
    ERROR = "error"


@dataclass(frozen=True, slots=True)
class CommandResult:
    """`detail` is the station's own status or error text; `data` what the command asked for."""

    status: CommandStatus
    detail: str = ""
    data: object = None

    @property
    def accepted(self) -> bool:
        return self.status in (CommandStatus.ACCEPTED, CommandStatus.SCHEDULED)


@dataclass(frozen=True, slots=True)
class StartCharging:
    """Begin a transaction for `token`; `remote_start_id` comes back with it in OCPP 2.x."""

    evse: int | None
    token: TokenRef
    remote_start_id: int
    profile: ChargingProfile | None = None


@dataclass(frozen=True, slots=True)
class StopCharging:
    transaction_id: str


@dataclass(frozen=True, slots=True)
class Reset:
    """`hard`: at once, ending transactions; else when they have ended. `evse` needs OCPP 2.x.

    `resume`: at once, and transactions go on afterwards (OCPP 2.1).
    """

    hard: bool = False
    evse: int | None = None
    resume: bool = False


@dataclass(frozen=True, slots=True)
class Unlock:
    evse: int
    connector: int = 1


@dataclass(frozen=True, slots=True)
class SetAvailability:
    """`evse` None: the whole station."""

    operative: bool
    evse: int | None = None


class TriggerKind(StrEnum):
    BOOT = "boot"
    HEARTBEAT = "heartbeat"
    METERS = "meters"
    STATUS = "status"
    TRANSACTION = "transaction"
    FIRMWARE = "firmware"
    LOG = "log"
    DIAGNOSTICS = "diagnostics"
    PUBLISHED = "published"
    SIGN_STATION = "sign_station"
    SIGN_V2G = "sign_v2g"
    SIGN_V2G20 = "sign_v2g20"
    SIGN_COMBINED = "sign_combined"
    CUSTOM = "custom"


@dataclass(frozen=True, slots=True)
class Trigger:
    """Ask for a message now; `evse` None: for all. `custom` names a maker's own (OCPP 2.1)."""

    kind: TriggerKind
    evse: int | None = None
    custom: str = ""


@dataclass(frozen=True, slots=True)
class SetProfile:
    """Store `profile` for `evse` (0: the whole station, or the default of each EVSE)."""

    evse: int
    profile: ChargingProfile


@dataclass(frozen=True, slots=True)
class ClearProfiles:
    """Remove what fits all given fields; with `id` the others are ignored (OCPP 1.6 errata)."""

    id: int | None = None
    evse: int | None = None
    purpose: ProfilePurpose | None = None
    stack_level: int | None = None


@dataclass(frozen=True, slots=True)
class GetProfiles:
    """Ask for the profiles in force; they come as ProfilesReported (OCPP 2.x only)."""

    request_id: int
    evse: int | None = None
    purpose: ProfilePurpose | None = None


@dataclass(frozen=True, slots=True)
class GetComposite:
    """`data` of the result: CompositeSchedule."""

    evse: int
    duration_s: int
    unit: RateUnit = RateUnit.AMPERE


@dataclass(frozen=True, slots=True)
class GetVariables:
    """`paths` empty: all that the station will tell (OCPP 1.6). `data`: tuple[VariableValue, ...]."""

    paths: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetVariables:
    """`data`: tuple[(path, status text), ...]; the result is ACCEPTED only if each one was."""

    values: tuple[VariableValue, ...]


@dataclass(frozen=True, slots=True)
class GetReport:
    """Ask for the device model; it comes as VariablesReported (OCPP 2.x only)."""

    request_id: int
    full: bool = True


@dataclass(frozen=True, slots=True)
class ClearCache:
    """Forget remembered tokens."""


@dataclass(frozen=True, slots=True)
class SendVendorMessage:
    """`data` of the result: the text that came back."""

    vendor: str
    message: str = ""
    data: str | None = None


Command = (
    StartCharging
    | StopCharging
    | Reset
    | Unlock
    | SetAvailability
    | Trigger
    | SetProfile
    | ClearProfiles
    | GetProfiles
    | GetComposite
    | GetVariables
    | SetVariables
    | GetReport
    | ClearCache
    | SendVendorMessage
    | battery.RequestBatterySwap
    | costs.ChangeTariff
    | costs.ClearTariffs
    | costs.GetTariffs
    | costs.SetDefaultTariff
    | costs.TellCost
    | costs.TellWebPayment
    | der.ClearDerControl
    | der.GetDerControls
    | der.SetDerControl
    | display.ClearDisplayMessage
    | display.GetDisplayMessages
    | display.SetDisplayMessage
    | firmware.GetLog
    | firmware.PublishFirmware
    | firmware.UnpublishFirmware
    | firmware.UpdateFirmware
    | limits.AllowEnergyTransfer
    | limits.SendBalancingSignal
    | limits.UpdateSchedule
    | limits.UsePriority
    | lists.CancelReservation
    | lists.GetLocalListVersion
    | lists.ReserveNow
    | lists.SendLocalList
    | monitoring.AdjustStream
    | monitoring.AskCustomer
    | monitoring.ClearMonitors
    | monitoring.GetMonitors
    | monitoring.GetPartReport
    | monitoring.GetStreams
    | monitoring.SetMonitoringBase
    | monitoring.SetMonitoringLevel
    | monitoring.SetMonitors
    | network.GetTransactionStatus
    | network.SetNetworkProfile
    | security.DeleteCertificate
    | security.DeliverCertificate
    | security.GetCertificates
    | security.InstallCertificate
)

COMMANDS: tuple[type[Command], ...] = get_args(Command)
"""Every kind of command."""
