"""What may be said between us and a station that is not accepted yet. Pure.

OCPP 1.6 §4.2 with errata 3.22 and OCPP-J errata §3.8; OCPP 2.0.1 B02, B03: while pending a
station says only what it was asked for, and is not told to start or stop; while rejected neither
side says anything but the boot.
"""

from collections.abc import Mapping, Set
from typing import Any

from csms.stations.commands import Command, StartCharging, StopCharging
from csms.stations.model import Registration

BOOT = "BootNotification"

_PROVOKED: Mapping[str, str] = {
    "GetBaseReport": "NotifyReport",
    "GetReport": "NotifyReport",
    "GetChargingProfiles": "ReportChargingProfiles",
    "GetMonitoringReport": "NotifyMonitoringReport",
    "CustomerInformation": "NotifyCustomerInformation",
    "GetDisplayMessages": "NotifyDisplayMessages",
    "GetLog": "LogStatusNotification",
    "GetDiagnostics": "DiagnosticsStatusNotification",
    "UpdateFirmware": "FirmwareStatusNotification",
    "SignedUpdateFirmware": "SignedFirmwareStatusNotification",
    "PublishFirmware": "PublishFirmwareStatusNotification",
    "GetDERControl": "ReportDERControl",
}
_SIGNING = frozenset(
    {
        "SignChargePointCertificate",
        "SignChargingStationCertificate",
        "SignCombinedCertificate",
        "SignV2GCertificate",
        "SignV2G20Certificate",
    }
)
"""Triggers that are not called as the message they ask for."""
_TRIGGERS = frozenset({"TriggerMessage", "ExtendedTriggerMessage"})


def provoked_by(action: str, payload: Mapping[str, Any]) -> str | None:
    """The action that a station sends because of our call, if there is one."""
    if action not in _TRIGGERS:
        return _PROVOKED.get(action)
    wanted = str(payload.get("requestedMessage", ""))
    if wanted in _SIGNING:
        return "SignCertificate"
    if action == "ExtendedTriggerMessage" and wanted == "FirmwareStatusNotification":
        return "SignedFirmwareStatusNotification"
    return wanted


def may_say(registration: Registration, action: str, provoked: Set[str]) -> bool:
    """Whether a station may call `action`; `provoked` are the actions that we asked it for."""
    if registration is Registration.ACCEPTED or action == BOOT:
        return True
    return registration is Registration.PENDING and action in provoked


def why_not_ask(registration: Registration, command: Command) -> str | None:
    """Why `command` must not be sent to a station now; None when it may."""
    if registration is Registration.REJECTED:
        return "not sent: the station is rejected"
    if registration is Registration.PENDING and isinstance(command, StartCharging | StopCharging):
        return "not sent: the station is not accepted yet"
    return None
