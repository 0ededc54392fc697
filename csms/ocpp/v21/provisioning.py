"""Reset in OCPP 2.1 (B11, B12, B13): also at once with transactions that go on afterwards."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, plain_result
from csms.stations.commands import Command, Reset
from csms.stations.events import Event
from csms.stations.questions import Question


def write_reset(command: Reset) -> Payload:
    """EVSE 0 or none is the whole station."""
    kind = "ImmediateAndResume" if command.resume else "Immediate" if command.hard else "OnIdle"
    wire: Payload = {"type": kind}
    if command.evse:
        wire["evseId"] = command.evse
    return wire


INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {Reset: Asked("Reset", write_reset, plain_result)}
