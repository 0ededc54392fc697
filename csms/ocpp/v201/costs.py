"""What a station shows of costs in OCPP 2.x (block I)."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.costs import TellCost

INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {TellCost: Ordered("CostUpdated", {"total": "totalCost"})}
