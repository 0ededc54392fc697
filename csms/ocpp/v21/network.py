"""Network profiles in OCPP 2.1: with an identity and a password of their own (B09)."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer
from csms.ocpp.v201.network import WHERE
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.network import SetNetworkProfile

INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetNetworkProfile: Ordered("SetNetworkProfile", WHERE, {"connectionData": {"ocppTransport": "JSON"}}),
}
