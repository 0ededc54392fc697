"""Meter values outside transactions in OCPP 2.0.1 (block J); inside they come with the events."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.sampled import readings
from csms.ocpp.translator import Asked, Heard, Writer
from csms.stations.commands import Command
from csms.stations.events import Event, MetersReported
from csms.stations.questions import Question


def read_meters(said: Fields, now: datetime) -> MetersReported:
    """Raises Unreadable when no EVSE is said and no value can be read."""
    evse = said.whole("evseId")
    values = readings(said.raw("meterValue"), now, said.notes)
    if not values:
        if evse is None:
            raise said.false("meterValue", "has no value that can be read: there is nothing to keep")
        said.notes.add("meterValue", "has no value that can be read")
    if evse is not None and evse < 0:
        said.notes.add("evseId", f"{evse} is no EVSE")
        evse = None
    return MetersReported(evse, values, None, said.notes.texts())


INBOUND: Mapping[str, Heard] = {"MeterValues": Heard(MetersReported, read_meters)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {}
