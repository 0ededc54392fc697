"""Messages on a station's display in OCPP 2.x (block O)."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.display import (
    ClearDisplayMessage,
    DisplayMessagesReported,
    GetDisplayMessages,
    SetDisplayMessage,
)

INBOUND: Mapping[str, Heard | Spelled] = {
    "NotifyDisplayMessages": Spelled(
        DisplayMessagesReported, {"messages.text": "message", "messages.extra": "messageExtra"}
    ),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetDisplayMessage: Ordered(
        "SetDisplayMessage", {"message.text": "message", "message.extra": "messageExtra"}
    ),
    GetDisplayMessages: Ordered("GetDisplayMessages", {"ids": "id"}),
    ClearDisplayMessage: Ordered("ClearDisplayMessage"),
}
