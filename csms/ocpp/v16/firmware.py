"""Firmware and diagnostics in OCPP 1.6 (sections 4.4, 4.5, 5.9, 6.45, and the security white paper).

With a signature an update is SignedUpdateFirmware, without one UpdateFirmware. Diagnostics are asked
for by the message that every station with firmware management knows; the security log has only GetLog.
"""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.times import write_time
from csms.ocpp.translator import (
    ACCEPTED,
    Asked,
    Heard,
    Ordered,
    Payload,
    Spelled,
    Writer,
    checked,
    plain_result,
    status_of,
)
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.firmware import FirmwareReported, GetLog, LogKind, LogReported, UpdateFirmware

STATE = {"state": "status"}


def write_update(command: UpdateFirmware) -> tuple[str, Payload] | Unsupported:
    wire: Payload = _retries(command)
    if not command.signature and not command.signing_certificate:
        if command.install_at is not None:
            return Unsupported("install_at: OCPP 1.6 sets it for signed firmware only; leave it out")
        wire |= {"location": command.location, "retrieveDate": write_time(command.retrieve_at)}
        return checked(Version.OCPP16, "UpdateFirmware", wire)
    firmware: Payload = {
        "location": command.location,
        "retrieveDateTime": write_time(command.retrieve_at),
        "signingCertificate": command.signing_certificate,
        "signature": command.signature,
    }
    if command.install_at is not None:
        firmware["installDateTime"] = write_time(command.install_at)
    return checked(
        Version.OCPP16, "SignedUpdateFirmware", wire | {"requestId": command.request_id, "firmware": firmware}
    )


def read_update(command: UpdateFirmware, said: Fields) -> CommandResult:
    """The plain message has no status in its answer."""
    return plain_result(command, said) if said.raw("status") is not None else ACCEPTED


def write_log(command: GetLog) -> tuple[str, Payload] | Unsupported:
    if command.kind is LogKind.DIAGNOSTICS:
        wire: Payload = _retries(command) | {"location": command.location}
        wire |= _times({"startTime": command.from_at, "stopTime": command.to_at})
        return checked(Version.OCPP16, "GetDiagnostics", wire)
    if command.kind is not LogKind.SECURITY:
        return Unsupported(f"kind: OCPP 1.6 has no log of kind {command.kind}")
    times = _times({"oldestTimestamp": command.from_at, "latestTimestamp": command.to_at})
    wire = {
        **_retries(command),
        "logType": "SecurityLog",
        "requestId": command.request_id,
        "log": {"remoteLocation": command.location, **times},
    }
    return checked(Version.OCPP16, "GetLog", wire)


def read_log(command: GetLog, said: Fields) -> CommandResult:
    """GetDiagnostics has no status: without a file's name there is nothing to send."""
    if said.raw("status") is not None:
        return CommandResult(*status_of(said), said.text("filename") or None)
    name = said.text("fileName")
    return CommandResult(CommandStatus.ACCEPTED if name else CommandStatus.UNKNOWN, "", name or None)


def _retries(command: UpdateFirmware | GetLog) -> Payload:
    told = {"retries": command.retries, "retryInterval": command.retry_interval_s}
    return {name: value for name, value in told.items() if value is not None}


def _times(times: Mapping[str, datetime | None]) -> Payload:
    return {name: write_time(at) for name, at in times.items() if at is not None}


INBOUND: Mapping[str, Heard | Spelled] = {
    "FirmwareStatusNotification": Spelled(FirmwareReported, STATE),
    "SignedFirmwareStatusNotification": Spelled(FirmwareReported, STATE),
    "DiagnosticsStatusNotification": Spelled(LogReported, STATE),
    "LogStatusNotification": Spelled(LogReported, STATE),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    UpdateFirmware: Asked("UpdateFirmware", write_update, read_update, ("SignedUpdateFirmware",)),
    GetLog: Asked("GetDiagnostics", write_log, read_log, ("GetLog",)),
}
