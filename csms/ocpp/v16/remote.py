"""Remote start and stop, unlock and trigger in OCPP 1.6 (sections 5.11, 5.12, 5.17, 5.18)."""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.profile import schedule_refusal, too_new
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result
from csms.ocpp.v16.authorization import LONGEST_TAG
from csms.ocpp.v16.smart_charging import write_profile
from csms.stations.commands import Command, StartCharging, StopCharging, Trigger, TriggerKind, Unlock
from csms.stations.events import Event
from csms.stations.model import ProfilePurpose
from csms.stations.questions import Question

TRIGGERS: Mapping[TriggerKind, str] = {
    TriggerKind.BOOT: "BootNotification",
    TriggerKind.HEARTBEAT: "Heartbeat",
    TriggerKind.METERS: "MeterValues",
    TriggerKind.STATUS: "StatusNotification",
    TriggerKind.FIRMWARE: "FirmwareStatusNotification",
    TriggerKind.DIAGNOSTICS: "DiagnosticsStatusNotification",
}

EXTENDED: Mapping[TriggerKind, str] = {
    TriggerKind.LOG: "LogStatusNotification",
    TriggerKind.SIGN_STATION: "SignChargePointCertificate",
}
"""What only the extended message of the security white paper asks for."""


def read_integer_id(text: str) -> int | None:
    """A transaction id of 1.6, None for a text that is none."""
    try:
        return int(text)
    except ValueError:
        return None


def write_start(command: StartCharging) -> Payload | Unsupported:
    """The profile of a start is the transaction's, without an id, since there is none yet."""
    if not 0 < len(command.token.text) <= LONGEST_TAG:
        return Unsupported(f"token: OCPP 1.6 carries 1 to {LONGEST_TAG} characters")
    wire: Payload = {"idTag": command.token.text}
    if command.evse:
        wire["connectorId"] = command.evse
    if command.profile is not None:
        if command.profile.purpose is not ProfilePurpose.TX:
            return Unsupported("profile: a start takes the transaction's profile only")
        profile = (
            schedule_refusal(command.profile)
            or too_new(command.profile)
            or write_profile(command.profile, with_id=False)
        )
        if isinstance(profile, Unsupported):
            return profile
        wire["chargingProfile"] = profile
    return wire


def write_stop(command: StopCharging) -> Payload | Unsupported:
    transaction_id = read_integer_id(command.transaction_id)
    if transaction_id is None:
        return Unsupported(f"transaction_id: {command.transaction_id!r:.40} is no integer, as OCPP 1.6 wants")
    return {"transactionId": transaction_id}


def write_unlock(command: Unlock) -> Payload | Unsupported:
    if command.connector != 1:
        return Unsupported("connector: an EVSE of OCPP 1.6 has connector 1 only")
    return {"connectorId": command.evse}


def write_trigger(command: Trigger) -> Payload | tuple[str, Payload] | Unsupported:
    """Without a connector the station tells of all of them and of itself."""
    extended = EXTENDED.get(command.kind)
    message = extended or TRIGGERS.get(command.kind)
    if message is None:
        return Unsupported(f"kind: OCPP 1.6 has no trigger for {command.kind}")
    wire: Payload = {"requestedMessage": message}
    if command.evse:
        wire["connectorId"] = command.evse
    return ("ExtendedTriggerMessage", wire) if extended else wire


INBOUND: Mapping[str, Heard] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    StartCharging: Asked("RemoteStartTransaction", write_start, plain_result),
    StopCharging: Asked("RemoteStopTransaction", write_stop, plain_result),
    Unlock: Asked("UnlockConnector", write_unlock, plain_result),
    Trigger: Asked("TriggerMessage", write_trigger, plain_result, ("ExtendedTriggerMessage",)),
}
