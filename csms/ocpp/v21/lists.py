"""Local authorization lists in OCPP 2.1: longer tokens (block D; the rest is as in 2.0.1)."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer, plain_result
from csms.ocpp.v21.authorization import write_token, write_verdict
from csms.ocpp.v201.lists import list_writer
from csms.ocpp.version import Version
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.lists import SendLocalList

INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SendLocalList: Asked(
        "SendLocalList", list_writer(Version.OCPP21, write_token, write_verdict), plain_result
    ),
}
