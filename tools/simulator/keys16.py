"""OCPP 1.6 configuration keys and where in the station's options they live."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from tools.simulator.options import MEASURANDS, Options


@dataclass(frozen=True, slots=True)
class Key:
    """`parse` turns the text into the option's value or raises ValueError; None makes the key read-only."""

    read: Callable[[Options], str]
    option: str | None = None
    parse: Callable[[str], object] | None = None
    reboot: bool = False


def whole(lowest: int) -> Callable[[str], int]:
    def parse(text: str) -> int:
        value = int(text)
        if value < lowest:
            raise ValueError(f"{value} is below {lowest}")
        return value

    return parse


def truth(text: str) -> bool:
    if text.lower() not in ("true", "false"):
        raise ValueError(f"{text!r} is neither true nor false")
    return text.lower() == "true"


def measurand_list(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    unknown = [name for name in names if name not in MEASURANDS]
    if unknown:
        raise ValueError(f"unknown measurands: {', '.join(unknown)}")
    return names


def password(text: str) -> bytes:
    """Hex text of 16 to 20 bytes; the bytes go into the header (OCPP-J 1.6 section 6.2, security white
    paper)."""
    if not 32 <= len(text) <= 40:
        raise ValueError("AuthorizationKey must be hex text of 16 to 20 bytes")
    return bytes.fromhex(text)


def number(option: str, lowest: int = 0) -> Key:
    return Key(lambda o: str(getattr(o, option)), option, whole(lowest))


def flag(option: str) -> Key:
    return Key(lambda o: str(getattr(o, option)).lower(), option, truth)


def names(option: str) -> Key:
    return Key(lambda o: ",".join(getattr(o, option)), option, measurand_list)


def fixed(text: str) -> Key:
    return Key(lambda _: text)


KEYS: Final[Mapping[str, Key]] = {
    "AllowOfflineTxForUnknownId": flag("offline_unknown_tokens"),
    "AuthorizeRemoteTxRequests": flag("authorize_remote"),
    "ClockAlignedDataInterval": number("aligned_s"),
    "ConnectionTimeOut": number("connection_timeout_s"),
    "ConnectorPhaseRotation": fixed("NotApplicable"),
    "GetConfigurationMaxKeys": fixed("50"),
    "HeartbeatInterval": number("heartbeat_s", 1),
    "LocalAuthorizeOffline": flag("offline_known_tokens"),
    "LocalPreAuthorize": fixed("false"),
    "MeterValuesAlignedData": names("aligned_measurands"),
    "MeterValuesSampledData": names("measurands"),
    "MeterValueSampleInterval": number("sample_s"),
    "ResetRetries": fixed("1"),
    "StopTransactionOnEVSideDisconnect": fixed("true"),
    "StopTransactionOnInvalidId": flag("stop_on_invalid_id"),
    "StopTxnAlignedData": fixed(""),
    "StopTxnSampledData": fixed(""),
    "SupportedFeatureProfiles": fixed("Core,SmartCharging,RemoteTrigger"),
    "TransactionMessageAttempts": number("message_attempts", 1),
    "TransactionMessageRetryInterval": number("message_retry_s"),
    "UnlockConnectorOnEVSideDisconnect": fixed("true"),
    "WebSocketPingInterval": number("ping_s"),
    "ChargeProfileMaxStackLevel": Key(lambda o: str(o.max_stack_level)),
    "ChargingScheduleAllowedChargingRateUnit": fixed("Current,Power"),
    "ChargingScheduleMaxPeriods": Key(lambda o: str(o.max_periods)),
    "MaxChargingProfilesInstalled": Key(lambda o: str(o.max_profiles)),
    "AuthorizationKey": Key(lambda _: "", "password", password),
}
"""NumberOfConnectors is answered by the station itself."""
