"""A maker's own messages, the same in OCPP 1.6 (DataTransfer, sections 4.3, 5.6) and 2.0.1 (block P)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.texts import as_text
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect, status_of
from csms.stations.commands import Command, CommandResult, SendVendorMessage
from csms.stations.events import Event
from csms.stations.questions import Question, VendorAnswer, VendorMessage, VendorStatus

STATUSES: Mapping[VendorStatus, str] = {
    VendorStatus.ACCEPTED: "Accepted",
    VendorStatus.REJECTED: "Rejected",
    VendorStatus.UNKNOWN_MESSAGE: "UnknownMessageId",
    VendorStatus.UNKNOWN_VENDOR: "UnknownVendorId",
}
LONGEST_VENDOR = 255
LONGEST_MESSAGE = 50


def read_message(said: Fields, now: datetime) -> VendorMessage:
    """Data that is no text (1.6 wants one, 2.0.1 allows anything) is kept as its JSON."""
    vendor = said.text("vendorId")
    if not vendor:
        raise said.false("vendorId", "is missing: nobody can tell what the message means")
    return VendorMessage(vendor, said.text("messageId"), as_text(said.raw("data")))


def write_answer(question: VendorMessage, answer: object, now: datetime) -> Payload:
    """The answer to DataTransfer."""
    said: VendorAnswer = expect(answer, VendorAnswer)
    wire: Payload = {"status": STATUSES[said.status]}
    if said.data is not None:
        wire["data"] = said.data
    return wire


def write_message(command: SendVendorMessage) -> Payload | Unsupported:
    if not 0 < len(command.vendor) <= LONGEST_VENDOR or len(command.message) > LONGEST_MESSAGE:
        return Unsupported(f"vendor: 1 to {LONGEST_VENDOR} characters; message: at most {LONGEST_MESSAGE}")
    wire: Payload = {"vendorId": command.vendor}
    if command.message:
        wire["messageId"] = command.message
    if command.data is not None:
        wire["data"] = command.data
    return wire


def read_result(command: SendVendorMessage, said: Fields) -> CommandResult:
    return CommandResult(*status_of(said), as_text(said.raw("data")))


INBOUND: Mapping[str, Heard] = {"DataTransfer": Heard(VendorMessage, read_message)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {VendorMessage: write_answer}
OUTBOUND: Mapping[type[Command], Asked] = {
    SendVendorMessage: Asked("DataTransfer", write_message, read_result),
}
