"""Meter values in OCPP 1.6 (sections 4.7, 7.31 to 7.45)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.sampled import readings
from csms.ocpp.translator import Asked, Heard, Writer
from csms.ocpp.v16.transactions import read_id
from csms.stations.commands import Command
from csms.stations.events import Event, MetersReported
from csms.stations.questions import Question


def read_meters(said: Fields, now: datetime) -> MetersReported:
    """Raises Unreadable when nothing says where the values belong and none can be read."""
    evse, transaction_id = said.whole("connectorId"), read_id(said)
    values = readings(said.raw("meterValue"), now, said.notes)
    if not values:
        if evse is None and transaction_id is None:
            raise said.false("meterValue", "has no value that can be read: there is nothing to keep")
        said.notes.add("meterValue", "has no value that can be read")
    if evse is not None and evse < 0:
        said.notes.add("connectorId", f"{evse} is no connector")
        evse = None
    return MetersReported(evse, values, transaction_id, said.notes.texts())


INBOUND: Mapping[str, Heard] = {"MeterValues": Heard(MetersReported, read_meters)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {}
