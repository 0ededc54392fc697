"""Local authorization lists and reservations in OCPP 1.6 (sections 3.5, 5.1, 5.10, 5.13, 5.15)."""

from collections.abc import Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, checked, plain_result
from csms.ocpp.v16.authorization import write_verdict
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.lists import CancelReservation, GetLocalListVersion, ReserveNow, SendLocalList


def write_list(command: SendLocalList) -> tuple[str, Payload] | Unsupported:
    """An entry without a verdict takes the token out; a full list has no such entries."""
    if command.version < 1:
        return Unsupported("version: 0 and -1 have meanings of their own; count from 1")
    if command.full and any(entry.answer is None for entry in command.entries):
        return Unsupported("entries: a full list has nothing to take out; give each a verdict")
    entries = [
        {"idTag": entry.token.text}
        | ({} if entry.answer is None else {"idTagInfo": write_verdict(entry.answer)})
        for entry in command.entries
    ]
    wire: Payload = {
        "listVersion": command.version,
        "updateType": "Full" if command.full else "Differential",
    }
    if entries:
        wire["localAuthorizationList"] = entries
    return checked(Version.OCPP16, "SendLocalList", wire)


def write_version(command: GetLocalListVersion) -> Payload:
    return {}


def read_version(command: GetLocalListVersion, said: Fields) -> CommandResult:
    version = said.whole("listVersion")
    if version is None:
        raise said.false("listVersion", "is missing: the version is unknown")
    return CommandResult(CommandStatus.UNSUPPORTED if version < 0 else CommandStatus.ACCEPTED, "", version)


def write_reserve(command: ReserveNow) -> tuple[str, Payload] | Unsupported:
    """Connector 0 is any of them, where the station allows that (ReserveConnectorZeroSupported)."""
    if command.connector_type:
        return Unsupported("connector_type: OCPP 1.6 reserves a connector by its number")
    wire: Payload = {
        "connectorId": command.evse or 0,
        "expiryDate": write_time(command.expires_at),
        "idTag": command.token.text,
        "reservationId": command.reservation_id,
    }
    if command.group_token is not None:
        wire["parentIdTag"] = command.group_token.text
    return checked(Version.OCPP16, "ReserveNow", wire)


INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SendLocalList: Asked("SendLocalList", write_list, plain_result),
    GetLocalListVersion: Asked("GetLocalListVersion", write_version, read_version),
    ReserveNow: Asked("ReserveNow", write_reserve, plain_result),
    CancelReservation: Ordered("CancelReservation"),
}
