"""Firmware and logs in OCPP 2.x (block L, N01)."""

from collections.abc import Mapping

from csms.ocpp.fields import Fields
from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer, status_of
from csms.stations.commands import Command, CommandResult
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.firmware import (
    FirmwarePublished,
    FirmwareReported,
    GetLog,
    LogReported,
    PublishFirmware,
    UnpublishFirmware,
    UpdateFirmware,
)

STATE = {"state": "status"}


def read_log(command: GetLog, said: Fields) -> CommandResult:
    return CommandResult(*status_of(said), said.text("filename") or None)


INBOUND: Mapping[str, Heard | Spelled] = {
    "FirmwareStatusNotification": Spelled(FirmwareReported, STATE),
    "LogStatusNotification": Spelled(LogReported, STATE),
    "PublishFirmwareStatusNotification": Spelled(FirmwarePublished, {**STATE, "locations": "location"}),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    UpdateFirmware: Ordered(
        "UpdateFirmware",
        {
            "location": "firmware.location",
            "retrieve_at": "firmware.retrieveDateTime",
            "install_at": "firmware.installDateTime",
            "signing_certificate": "firmware.signingCertificate",
            "signature": "firmware.signature",
        },
    ),
    PublishFirmware: Ordered("PublishFirmware"),
    UnpublishFirmware: Ordered("UnpublishFirmware"),
    GetLog: Ordered(
        "GetLog",
        {
            "kind": "logType",
            "location": "log.remoteLocation",
            "from_at": "log.oldestTimestamp",
            "to_at": "log.latestTimestamp",
        },
        read=read_log,
    ),
}
