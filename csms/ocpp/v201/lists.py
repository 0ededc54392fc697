"""Local authorization lists and reservations in OCPP 2.x (blocks D and H)."""

from collections.abc import Callable, Mapping

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, checked, plain_result
from csms.ocpp.v201.authorization import write_token, write_verdict
from csms.ocpp.version import Version
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.model import TokenAnswer, TokenRef
from csms.stations.questions import Question
from csms.stations.words.lists import (
    CancelReservation,
    GetLocalListVersion,
    ReservationReported,
    ReserveNow,
    SendLocalList,
)


def list_writer(
    version: Version,
    token: Callable[[TokenRef], Payload | Unsupported],
    verdict: Callable[[TokenAnswer], Payload],
) -> Callable[[SendLocalList], tuple[str, Payload] | Unsupported]:
    """How `version` writes a list. An entry without a verdict takes the token out."""

    def write(command: SendLocalList) -> tuple[str, Payload] | Unsupported:
        if command.version < 1:
            return Unsupported("version: 0 means that there is no list; count from 1")
        if command.full and any(entry.answer is None for entry in command.entries):
            return Unsupported("entries: a full list has nothing to take out; give each a verdict")
        entries = []
        for entry in command.entries:
            written = token(entry.token)
            if isinstance(written, Unsupported):
                return written
            entries.append(
                {"idToken": written}
                | ({} if entry.answer is None else {"idTokenInfo": verdict(entry.answer)})
            )
        wire: Payload = {
            "versionNumber": command.version,
            "updateType": "Full" if command.full else "Differential",
        }
        if entries:
            wire["localAuthorizationList"] = entries
        return checked(version, "SendLocalList", wire)

    return write


def write_version(command: GetLocalListVersion) -> Payload:
    return {}


def read_version(command: GetLocalListVersion, said: Fields) -> CommandResult:
    version = said.whole("versionNumber")
    if version is None:
        raise said.false("versionNumber", "is missing: the version is unknown")
    return CommandResult(CommandStatus.ACCEPTED, "", version)


INBOUND: Mapping[str, Heard | Spelled] = {
    "ReservationStatusUpdate": Spelled(ReservationReported, {"state": "reservationUpdateStatus"}),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SendLocalList: Asked(
        "SendLocalList", list_writer(Version.OCPP201, write_token, write_verdict), plain_result
    ),
    GetLocalListVersion: Asked("GetLocalListVersion", write_version, read_version),
    ReserveNow: Ordered("ReserveNow", {"reservation_id": "id"}),
    CancelReservation: Ordered("CancelReservation"),
}
