"""Swapping of batteries in OCPP 2.1 (block S)."""

from collections.abc import Mapping

from csms.ocpp.translator import Asked, Heard, Ordered, Spelled, Writer
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.battery import BatterySwapped, RequestBatterySwap

INBOUND: Mapping[str, Heard | Spelled] = {
    "BatterySwap": Spelled(BatterySwapped, {"batteries": "batteryData"}),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {RequestBatterySwap: Ordered("RequestBatterySwap")}
