"""The device model of a 2.0.1 station: components, variables, and where in the options they live."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tools.simulator.keys16 import measurand_list, truth, whole

if TYPE_CHECKING:
    from tools.simulator.station import Station


@dataclass(frozen=True, slots=True)
class Variable:
    """`parse` None: read-only. `data_type` as in the standard's variable characteristics."""

    read: Callable[["Station"], str]
    option: str | None = None
    parse: Callable[[str], object] | None = None
    data_type: str = "integer"
    unit: str | None = None
    write_only: bool = False

    @property
    def mutability(self) -> str:
        if self.write_only:
            return "WriteOnly"
        return "ReadOnly" if self.parse is None else "ReadWrite"


def number(option: str, lowest: int = 0, unit: str | None = "s") -> Variable:
    return Variable(lambda s: str(getattr(s.options, option)), option, whole(lowest), unit=unit)


def flag(option: str) -> Variable:
    return Variable(lambda s: str(getattr(s.options, option)).lower(), option, truth, "boolean")


def names(option: str) -> Variable:
    return Variable(lambda s: ",".join(getattr(s.options, option)), option, measurand_list, "MemberList")


def fixed(text: str, data_type: str = "string") -> Variable:
    return Variable(lambda _: text, data_type=data_type)


def password(text: str) -> str:
    if not 16 <= len(text) <= 40:
        raise ValueError("BasicAuthPassword must have 16 to 40 characters")
    return text


def start_point(text: str) -> bool:
    if text not in ("PowerPathClosed", "EVConnected"):
        raise ValueError(f"{text}: this station starts at PowerPathClosed or EVConnected")
    return text == "EVConnected"


VARIABLES: Final[Mapping[tuple[str, str], Variable]] = {
    ("ChargingStation", "AvailabilityState"): fixed("Available", "OptionList"),
    ("ChargingStation", "Model"): Variable(lambda s: s.model.model, data_type="string"),
    ("ChargingStation", "VendorName"): Variable(lambda s: s.model.vendor, data_type="string"),
    ("ChargingStation", "SupplyPhases"): Variable(lambda s: str(s.model.evse.line_count)),
    ("OCPPCommCtrlr", "HeartbeatInterval"): number("heartbeat_s", 1),
    ("OCPPCommCtrlr", "WebSocketPingInterval"): number("ping_s"),
    ("OCPPCommCtrlr", "MessageAttempts"): number("message_attempts", 1, None),
    ("OCPPCommCtrlr", "MessageAttemptInterval"): number("message_retry_s"),
    ("SecurityCtrlr", "BasicAuthPassword"): Variable(
        lambda _: "", "password", password, "string", write_only=True
    ),
    ("AuthCtrlr", "AuthorizeRemoteStart"): flag("authorize_remote"),
    ("AuthCtrlr", "LocalAuthorizeOffline"): flag("offline_known_tokens"),
    ("AuthCtrlr", "OfflineTxForUnknownIdEnabled"): flag("offline_unknown_tokens"),
    ("TxCtrlr", "EVConnectionTimeOut"): number("connection_timeout_s"),
    ("TxCtrlr", "StopTxOnInvalidId"): flag("stop_on_invalid_id"),
    ("TxCtrlr", "StopTxOnEVSideDisconnect"): fixed("true", "boolean"),
    ("TxCtrlr", "TxStartPoint"): Variable(
        lambda s: "EVConnected" if s.options.starts_when_plugged else "PowerPathClosed",
        "starts_when_plugged",
        start_point,
        "MemberList",
    ),
    ("TxCtrlr", "TxStopPoint"): fixed("EVConnected,Authorized", "MemberList"),
    ("SampledDataCtrlr", "TxUpdatedInterval"): number("sample_s"),
    ("SampledDataCtrlr", "TxUpdatedMeasurands"): names("measurands"),
    ("AlignedDataCtrlr", "Interval"): number("aligned_s"),
    ("AlignedDataCtrlr", "Measurands"): names("aligned_measurands"),
    ("SmartChargingCtrlr", "Enabled"): fixed("true", "boolean"),
    ("SmartChargingCtrlr", "ProfileStackLevel"): Variable(lambda s: str(s.options.max_stack_level)),
    ("SmartChargingCtrlr", "RateUnit"): fixed("A,W", "MemberList"),
    ("SmartChargingCtrlr", "PeriodsPerSchedule"): Variable(lambda s: str(s.options.max_periods)),
    ("DeviceDataCtrlr", "ItemsPerMessage"): fixed("20", "integer"),
}
CONFIGURATION_ENDS: Final = "Ctrlr"


def report(station: "Station", *, configuration_only: bool) -> Iterator[dict[str, Any]]:
    """The report's entries; ConfigurationInventory has what an operator can set."""
    for (component, name), variable in VARIABLES.items():
        if configuration_only and (variable.parse is None or not component.endswith(CONFIGURATION_ENDS)):
            continue
        yield entry({"name": component}, name, variable, variable.read(station))
    if configuration_only:
        return
    for bay in station.bays:
        evse = {"id": bay.number}
        power = Variable(lambda _: "", data_type="decimal", unit="W")
        top_w = bay.evse.model.max_current_a * bay.evse.model.voltage_v * bay.evse.model.line_count
        yield entry({"name": "EVSE", "evse": evse}, "Power", power, f"{top_w:g}")
        connector = {"name": "Connector", "evse": {"id": bay.number, "connectorId": 1}}
        kind = Variable(lambda _: "", data_type="string")
        yield entry(connector, "ConnectorType", kind, "sType2")


def entry(component: dict[str, Any], name: str, variable: Variable, value: str) -> dict[str, Any]:
    attribute: dict[str, Any] = {"type": "Actual", "mutability": variable.mutability}
    if not variable.write_only:
        attribute["value"] = value
    characteristics: dict[str, Any] = {"dataType": variable.data_type, "supportsMonitoring": False}
    if variable.unit is not None:
        characteristics["unit"] = variable.unit
    return {
        "component": component,
        "variable": {"name": name},
        "variableAttribute": [attribute],
        "variableCharacteristics": characteristics,
    }
