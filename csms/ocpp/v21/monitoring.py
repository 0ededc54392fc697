"""Streams of monitors' values in OCPP 2.1 (N11 to N15; the rest is as in 2.0.1)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.monitoring import (
    AdjustStream,
    GetStreams,
    Stream,
    StreamClosed,
    StreamOpened,
    StreamReported,
)


def write_opened(event: StreamOpened, answer: object, now: datetime) -> Payload:
    """We asked for the stream when we set its monitor."""
    return {"status": "Accepted"}


INBOUND: Mapping[str, Heard | Spelled] = {
    "OpenPeriodicEventStream": Spelled(
        StreamOpened, {"stream": "constantStreamData", "stream.rate": "params"}
    ),
    "ClosePeriodicEventStream": Spelled(StreamClosed),
    "NotifyPeriodicEventStream": Spelled(
        StreamReported, {"samples": "data", "samples.after_s": "t", "samples.value": "v"}
    ),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {StreamOpened: write_opened}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    GetStreams: Ordered("GetPeriodicEventStream", gives=(Stream, "constantStreamData")),
    AdjustStream: Ordered("AdjustPeriodicEventStream", {"rate": "params"}),
}
