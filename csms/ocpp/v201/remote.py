"""Remote start and stop, unlock and trigger in OCPP 2.0.1 (block F)."""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.profile import schedule_refusal, too_new
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result, status_of
from csms.ocpp.v201.authorization import write_token
from csms.ocpp.v201.smart_charging import write_profile
from csms.stations.commands import (
    Command,
    CommandResult,
    StartCharging,
    StopCharging,
    Trigger,
    TriggerKind,
    Unlock,
)
from csms.stations.events import Event
from csms.stations.model import ProfilePurpose
from csms.stations.questions import Question

LONGEST_ID = 36

TRIGGERS: Mapping[TriggerKind, str] = {
    TriggerKind.BOOT: "BootNotification",
    TriggerKind.HEARTBEAT: "Heartbeat",
    TriggerKind.METERS: "MeterValues",
    TriggerKind.STATUS: "StatusNotification",
    TriggerKind.TRANSACTION: "TransactionEvent",
    TriggerKind.FIRMWARE: "FirmwareStatusNotification",
    TriggerKind.LOG: "LogStatusNotification",
    TriggerKind.PUBLISHED: "PublishFirmwareStatusNotification",
    TriggerKind.SIGN_STATION: "SignChargingStationCertificate",
    TriggerKind.SIGN_V2G: "SignV2GCertificate",
    TriggerKind.SIGN_COMBINED: "SignCombinedCertificate",
}


def write_start(command: StartCharging) -> Payload | Unsupported:
    """The profile of a start is the transaction's, without an id, since there is none yet (K05)."""
    token = write_token(command.token)
    if isinstance(token, Unsupported):
        return token
    wire: Payload = {"idToken": token, "remoteStartId": command.remote_start_id}
    if command.evse:
        wire["evseId"] = command.evse
    if command.profile is not None:
        if command.profile.purpose is not ProfilePurpose.TX:
            return Unsupported("profile: a start takes the transaction's profile only")
        fault = schedule_refusal(command.profile) or too_new(command.profile)
        if fault is not None:
            return fault
        wire["chargingProfile"] = write_profile(command.profile, with_id=False)
    return wire


def read_start(command: StartCharging, said: Fields) -> CommandResult:
    """`data` is the transaction's id when the station already has one (cable before start)."""
    return CommandResult(*status_of(said), said.text("transactionId")[:LONGEST_ID] or None)


def write_stop(command: StopCharging) -> Payload | Unsupported:
    if not 0 < len(command.transaction_id) <= LONGEST_ID:
        return Unsupported(f"transaction_id: OCPP 2.0.1 carries 1 to {LONGEST_ID} characters")
    return {"transactionId": command.transaction_id}


def write_unlock(command: Unlock) -> Payload:
    return {"evseId": command.evse, "connectorId": command.connector}


def write_trigger(command: Trigger) -> Payload | Unsupported:
    """A status is a connector's, so one of an EVSE is asked of its connector 1 (F06, from memory)."""
    message = TRIGGERS.get(command.kind)
    if message is None:
        return Unsupported(f"kind: OCPP 2.0.1 has no trigger for {command.kind}")
    wire: Payload = {"requestedMessage": message}
    if command.evse:
        wire["evse"] = {"id": command.evse}
        if command.kind is TriggerKind.STATUS:
            wire["evse"]["connectorId"] = 1
    return wire


INBOUND: Mapping[str, Heard] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    StartCharging: Asked("RequestStartTransaction", write_start, read_start),
    StopCharging: Asked("RequestStopTransaction", write_stop, plain_result),
    Unlock: Asked("UnlockConnector", write_unlock, plain_result),
    Trigger: Asked("TriggerMessage", write_trigger, plain_result),
}
