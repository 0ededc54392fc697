"""Start and stop in OCPP 1.6 (sections 4.8, 4.10, 7.37).

Both are facts that a station repeats until they are answered, so they are read with whatever
can be read. A start has no id of its own; the answer gives one, which must be an integer. The
ids 0 and -1, which stations use for a start that never got an answer, are passed on as texts.
"""

from collections.abc import Mapping
from datetime import datetime

from csms.errors import OurFault
from csms.ocpp.fields import Fields, Words
from csms.ocpp.sampled import readings
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect
from csms.ocpp.v16.authorization import read_token, write_verdict
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import StopReason, TokenAnswer, Verdict
from csms.stations.questions import Question, TransactionAnswer, TransactionReported, TransactionStep

REASONS = Words(
    {
        "DeAuthorized": StopReason.DEAUTHORIZED,
        "EmergencyStop": StopReason.EMERGENCY_STOP,
        "EVDisconnected": StopReason.EV_DISCONNECTED,
        "HardReset": StopReason.RESET,
        "Local": StopReason.LOCAL,
        "Other": StopReason.OTHER,
        "PowerLoss": StopReason.POWER_LOSS,
        "Reboot": StopReason.REBOOT,
        "Remote": StopReason.REMOTE,
        "SoftReset": StopReason.RESET,
        "UnlockCommand": StopReason.UNLOCK,
    }
)


def read_id(said: Fields, name: str = "transactionId") -> str | None:
    """A transaction id as text, whatever its type; None when absent or empty."""
    return said.text(name)[:36] or None


def read_moment(said: Fields, now: datetime) -> datetime:
    """The message's own time, else that of arrival (noted)."""
    at = said.time("timestamp")
    if at is None:
        said.notes.add("timestamp", "is missing or false; the time of arrival is taken")
        return now
    return at


def read_connector(said: Fields) -> int | None:
    """A connector of a car: 1 or more; None when not said (0 and below are noted)."""
    connector = said.whole("connectorId")
    if connector is None or connector > 0:
        return connector
    said.notes.add("connectorId", f"{connector} is no connector of a car")
    return None


def read_start(said: Fields, now: datetime) -> TransactionReported:
    """Raises Unreadable when neither connector, token nor register can be read."""
    evse, token, register_wh = read_connector(said), read_token(said), said.wh("meterStart")
    if evse is None and token is None and register_wh is None:
        raise said.false(
            "idTag", "neither connector, token nor register can be read: there is nothing to keep"
        )
    for name, value in {"connectorId": evse, "idTag": token, "meterStart": register_wh}.items():
        if value is None:
            said.notes.add(name, "is missing or false")
    return TransactionReported(
        step=TransactionStep.BEGAN,
        transaction_id=None,
        at=read_moment(said, now),
        evse=evse,
        connector=None if evse is None else 1,
        token=token,
        register_wh=register_wh,
        reservation_id=said.whole("reservationId"),
        deviations=said.notes.texts(),
    )


def read_stop(said: Fields, now: datetime) -> TransactionReported:
    """Raises Unreadable when neither id, register nor readings can be read."""
    transaction_id, register_wh = read_id(said), said.wh("meterStop")
    values = readings(said.raw("transactionData"), now, said.notes, "transactionData")
    if transaction_id is None and register_wh is None and not values:
        raise said.false(
            "transactionId", "neither id, register nor readings can be read: there is nothing to keep"
        )
    for name, value in {"transactionId": transaction_id, "meterStop": register_wh}.items():
        if value is None:
            said.notes.add(name, "is missing or false")
    reason = said.word("reason", REASONS)
    if reason is None:
        reason = StopReason.OTHER if said.text("reason") else StopReason.LOCAL
    return TransactionReported(
        step=TransactionStep.ENDED,
        transaction_id=transaction_id,
        at=read_moment(said, now),
        token=read_token(said),
        register_wh=register_wh,
        readings=values,
        reason=reason,
        deviations=said.notes.texts(),
    )


def write_step(question: TransactionReported, answer: object, now: datetime) -> Payload:
    """StartTransaction.conf or StopTransaction.conf.

    A start must be answered with a verdict: where there was no token it is "Invalid".
    """
    said: TransactionAnswer = expect(answer, TransactionAnswer)
    if question.step is TransactionStep.ENDED:
        return {} if said.token is None else {"idTagInfo": write_verdict(said.token)}
    try:
        transaction_id = int(said.transaction_id)
    except ValueError:
        raise OurFault(f"OCPP 1.6 wants an integer as transaction id, not {said.transaction_id!r}") from None
    verdict = said.token or TokenAnswer(Verdict.UNKNOWN)
    return {"transactionId": transaction_id, "idTagInfo": write_verdict(verdict)}


INBOUND: Mapping[str, Heard] = {
    "StartTransaction": Heard(TransactionReported, read_start),
    "StopTransaction": Heard(TransactionReported, read_stop),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {TransactionReported: write_step}
OUTBOUND: Mapping[type[Command], Asked] = {}
