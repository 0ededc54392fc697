"""Status and availability in OCPP 2.0.1 (block G), told by StatusNotification or NotifyEvent.

A station may use either: in an event a status is the variable AvailabilityState of the component
Connector, EVSE or ChargingStation. 2.0.1 has no error code; a fault is another variable's event.
"""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields, Words
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result
from csms.ocpp.v201.variables import path_of, read_value
from csms.stations.commands import Command, SetAvailability
from csms.stations.events import ComponentAlert, ComponentsReported, Event, StatusReported
from csms.stations.model import EvseStatus, VariableValue
from csms.stations.questions import Question

STATUSES = Words(
    {
        "Available": EvseStatus.AVAILABLE,
        "Occupied": EvseStatus.OCCUPIED,
        "Reserved": EvseStatus.RESERVED,
        "Unavailable": EvseStatus.UNAVAILABLE,
        "Faulted": EvseStatus.FAULTED,
    }
)

TIERS = ("connector", "evse", "chargingstation")
"""Components that have an AvailabilityState; names do not depend on letter case."""


def read_status(said: Fields, now: datetime) -> StatusReported:
    """Raises Unreadable without a known status or an EVSE."""
    status = said.word("connectorStatus", STATUSES)
    evse, connector = said.whole("evseId"), said.whole("connectorId")
    if status is None:
        raise said.false(
            "connectorStatus", f"{said.raw('connectorStatus')!r:.60} is no status of the standard"
        )
    if evse is None or evse < 0:
        raise said.false("evseId", "is missing: nobody knows whose status this is")
    if connector is None or connector < 0:
        connector = 1 if evse else 0
    return StatusReported(evse, connector, status, at=said.time("timestamp"))


def read_event(said: Fields, now: datetime) -> ComponentsReported:
    """Every change, and those among them that mean a status, or are alarms, once more as such."""
    statuses, changes, alerts = [], [], []
    for data in said.parts("eventData"):
        path = path_of(data)
        if not path:
            continue
        changes.append(VariableValue(path, read_value(data.raw("actualValue"))))
        status = _status(data)
        if status is not None:
            statuses.append(status)
        elif data.text("trigger").lower() == "alerting" or data.flag("cleared"):
            alerts.append(_alert(path, data))
    return ComponentsReported(tuple(statuses), tuple(changes), said.time("generatedAt"), tuple(alerts))


def _alert(path: str, data: Fields) -> ComponentAlert:
    return ComponentAlert(
        path=path,
        value=read_value(data.raw("actualValue")),
        evse=data.part("component").part("evse").whole("id"),
        cleared=data.flag("cleared"),
        severity=data.whole("severity"),
        code=data.text("techCode"),
        info=data.text("techInfo"),
        monitor_id=data.whole("variableMonitoringId"),
        transaction_id=data.text("transactionId")[:36],
        at=data.time("timestamp"),
    )


def _status(data: Fields) -> StatusReported | None:
    """The status that an event means. EVSE 0 and connector 0 stand for the tier above."""
    component = data.part("component")
    tier = component.text("name").lower()
    if data.part("variable").text("name").lower() != "availabilitystate" or tier not in TIERS:
        return None
    status = data.word("actualValue", STATUSES)
    evse = component.part("evse")
    place = 0 if tier == "chargingstation" else evse.whole("id")
    if status is None or place is None or place < 0:
        return None
    connector = 0
    if tier == "connector":
        connector = evse.whole("connectorId") or 1
    return StatusReported(
        evse=place,
        connector=connector,
        status=status,
        info=data.text("techInfo"),
        vendor_error=data.text("techCode"),
        at=data.time("timestamp"),
    )


def write_availability(command: SetAvailability) -> Payload:
    """Without an EVSE the whole station is meant (G03, G04)."""
    wire: Payload = {"operationalStatus": "Operative" if command.operative else "Inoperative"}
    if command.evse:
        wire["evse"] = {"id": command.evse}
    return wire


INBOUND: Mapping[str, Heard] = {
    "StatusNotification": Heard(StatusReported, read_status),
    "NotifyEvent": Heard(ComponentsReported, read_event),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    SetAvailability: Asked("ChangeAvailability", write_availability, plain_result),
}
