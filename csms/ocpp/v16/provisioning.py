"""Boot, heartbeat and reset in OCPP 1.6 (sections 4.2, 4.6, 5.14)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect, plain_result
from csms.stations.commands import Command, Reset
from csms.stations.events import Event, Heartbeat
from csms.stations.model import Registration
from csms.stations.questions import Boot, BootAnswer, Question

REGISTRATIONS: Mapping[Registration, str] = {
    Registration.ACCEPTED: "Accepted",
    Registration.PENDING: "Pending",
    Registration.REJECTED: "Rejected",
}


def read_boot(said: Fields, now: datetime) -> Boot:
    """A boot is never refused for an odd or over-long text."""
    return Boot(
        vendor=said.text("chargePointVendor"),
        model=said.text("chargePointModel"),
        serial=said.text("chargePointSerialNumber") or said.text("chargeBoxSerialNumber"),
        firmware=said.text("firmwareVersion"),
        iccid=said.text("iccid"),
        imsi=said.text("imsi"),
        meter_type=said.text("meterType"),
        meter_serial=said.text("meterSerialNumber"),
    )


def write_boot(question: Boot, answer: object, now: datetime) -> Payload:
    """BootNotification.conf."""
    said: BootAnswer = expect(answer, BootAnswer)
    return {
        "status": REGISTRATIONS[said.registration],
        "currentTime": write_time(said.now),
        "interval": said.interval_s,
    }


def read_heartbeat(said: Fields, now: datetime) -> Heartbeat:
    return Heartbeat()


def write_heartbeat(event: Heartbeat, answer: object, now: datetime) -> Payload:
    """Our time, to the millisecond."""
    return {"currentTime": write_time(now)}


def write_reset(command: Reset) -> Payload | Unsupported:
    if command.evse:
        return Unsupported("evse: OCPP 1.6 resets the whole station only")
    if command.resume:
        return Unsupported("resume: needs OCPP 2.1; leave it out")
    return {"type": "Hard" if command.hard else "Soft"}


INBOUND: Mapping[str, Heard] = {
    "BootNotification": Heard(Boot, read_boot),
    "Heartbeat": Heard(Heartbeat, read_heartbeat),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {Boot: write_boot, Heartbeat: write_heartbeat}
OUTBOUND: Mapping[type[Command], Asked] = {Reset: Asked("Reset", write_reset, plain_result)}
