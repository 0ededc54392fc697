"""Remote start and trigger in OCPP 2.1 (block F): longer tokens, profiles of 2.1, makers' own triggers."""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, plain_result
from csms.ocpp.v21.authorization import write_token
from csms.ocpp.v21.smart_charging import fault_of, write_profile
from csms.ocpp.v201 import remote as before
from csms.stations.commands import Command, StartCharging, Trigger, TriggerKind
from csms.stations.events import Event
from csms.stations.model import ProfilePurpose
from csms.stations.questions import Question

LONGEST_CUSTOM = 50

TRIGGERS: Mapping[TriggerKind, str] = {
    **before.TRIGGERS,
    TriggerKind.SIGN_V2G20: "SignV2G20Certificate",
    TriggerKind.CUSTOM: "CustomTrigger",
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
        fault = fault_of(command.profile)
        if fault is not None:
            return fault
        wire["chargingProfile"] = write_profile(command.profile, with_id=False)
    return wire


def write_trigger(command: Trigger) -> Payload | Unsupported:
    """A status is a connector's, so one of an EVSE is asked of its connector 1 (F06, from memory)."""
    message = TRIGGERS.get(command.kind)
    if message is None:
        return Unsupported(f"kind: OCPP 2.1 has no trigger for {command.kind}")
    if (command.kind is TriggerKind.CUSTOM) != bool(command.custom) or len(command.custom) > LONGEST_CUSTOM:
        return Unsupported(f"custom: names a custom trigger, and only that, in {LONGEST_CUSTOM} characters")
    wire: Payload = {"requestedMessage": message}
    if command.custom:
        wire["customTrigger"] = command.custom
    if command.evse:
        wire["evse"] = {"id": command.evse}
        if command.kind is TriggerKind.STATUS:
            wire["evse"]["connectorId"] = 1
    return wire


INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    StartCharging: Asked("RequestStartTransaction", write_start, before.read_start),
    Trigger: Asked("TriggerMessage", write_trigger, plain_result),
}
