"""Status and availability in OCPP 1.6 (sections 4.9, 5.2, 7.6, 7.7)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields, Words
from csms.ocpp.translator import Asked, Heard, Payload, Writer, plain_result
from csms.stations.commands import Command, SetAvailability
from csms.stations.events import Event, StatusReported
from csms.stations.model import EvseStatus
from csms.stations.questions import Question

STATUSES = Words(
    {
        "Available": EvseStatus.AVAILABLE,
        "Preparing": EvseStatus.PREPARING,
        "Charging": EvseStatus.CHARGING,
        "SuspendedEVSE": EvseStatus.SUSPENDED_EVSE,
        "SuspendedEV": EvseStatus.SUSPENDED_EV,
        "Finishing": EvseStatus.FINISHING,
        "Reserved": EvseStatus.RESERVED,
        "Unavailable": EvseStatus.UNAVAILABLE,
        "Faulted": EvseStatus.FAULTED,
        "Occupied": EvseStatus.OCCUPIED,
    }
)
"""The words of 1.6, and 1.5's Occupied, which some stations still send."""


def read_status(said: Fields, now: datetime) -> StatusReported:
    """Raises Unreadable without a known status. A missing connector is the station itself."""
    status = said.word("status", STATUSES)
    if status is None:
        raise said.false("status", f"{said.raw('status')!r:.60} is no status of the standard")
    evse = max(said.whole("connectorId") or 0, 0)
    error = said.text("errorCode")
    return StatusReported(
        evse=evse,
        connector=1 if evse else 0,
        status=status,
        error="" if error.lower() == "noerror" else error,
        info=said.text("info"),
        vendor_error=said.text("vendorErrorCode"),
        at=said.time("timestamp"),
    )


def write_availability(command: SetAvailability) -> Payload:
    return {
        "connectorId": command.evse or 0,
        "type": "Operative" if command.operative else "Inoperative",
    }


INBOUND: Mapping[str, Heard] = {"StatusNotification": Heard(StatusReported, read_status)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked] = {
    SetAvailability: Asked("ChangeAvailability", write_availability, plain_result),
}
