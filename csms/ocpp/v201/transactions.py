"""Transaction events in OCPP 2.0.1 (block E).

An event is a fact: no answer refuses it. It is read with whatever can be read; the only
thing that the answer owes is a verdict when a token was given. No cost is told: leaving it
out does not mean that charging is free.
"""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields, Words
from csms.ocpp.sampled import readings
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect
from csms.ocpp.v201.authorization import read_token, write_verdict
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import ChargingState, StopReason, TokenAnswer, Verdict
from csms.stations.questions import Question, TransactionAnswer, TransactionReported, TransactionStep

STEPS = Words(
    {
        "Started": TransactionStep.BEGAN,
        "Updated": TransactionStep.UPDATED,
        "Ended": TransactionStep.ENDED,
    }
)

STATES = Words(
    {
        "Idle": ChargingState.IDLE,
        "EVConnected": ChargingState.CONNECTED,
        "Charging": ChargingState.CHARGING,
        "SuspendedEV": ChargingState.SUSPENDED_EV,
        "SuspendedEVSE": ChargingState.SUSPENDED_EVSE,
    }
)

REASONS = Words(
    {
        "DeAuthorized": StopReason.DEAUTHORIZED,
        "EmergencyStop": StopReason.EMERGENCY_STOP,
        "EnergyLimitReached": StopReason.LIMIT_REACHED,
        "EVDisconnected": StopReason.EV_DISCONNECTED,
        "GroundFault": StopReason.GROUND_FAULT,
        "ImmediateReset": StopReason.RESET,
        "Local": StopReason.LOCAL,
        "LocalOutOfCredit": StopReason.LIMIT_REACHED,
        "MasterPass": StopReason.LOCAL,
        "Other": StopReason.OTHER,
        "OvercurrentFault": StopReason.OVERCURRENT,
        "PowerLoss": StopReason.POWER_LOSS,
        "PowerQuality": StopReason.POWER_QUALITY,
        "Reboot": StopReason.REBOOT,
        "Remote": StopReason.REMOTE,
        "SOCLimitReached": StopReason.LIMIT_REACHED,
        "StoppedByEV": StopReason.STOPPED_BY_EV,
        "TimeLimitReached": StopReason.LIMIT_REACHED,
        "Timeout": StopReason.TIMEOUT,
    }
)


def read_event(said: Fields, now: datetime, reasons: Words[StopReason] = REASONS) -> TransactionReported:
    """Raises Unreadable when neither transaction, EVSE, token nor readings can be read."""
    notes = said.notes
    info, evse = said.part("transactionInfo"), said.part("evse")
    transaction_id = info.text("transactionId")[:36] or None
    evse_id, connector = _positive(evse, "id"), _positive(evse, "connectorId")
    token = read_token(said.part("idToken"))
    values = readings(said.raw("meterValue"), now, notes)
    if transaction_id is None:
        if evse_id is None and token is None and not values:
            raise said.false(
                "transactionInfo.transactionId", "is missing, and so is all else: there is nothing to keep"
            )
        notes.add("transactionInfo.transactionId", "is missing")
    step = said.word("eventType", STEPS)
    if step is None:
        notes.add("eventType", "is missing or false; taken as Updated")
        step = TransactionStep.UPDATED
    at = said.time("timestamp")
    if at is None:
        notes.add("timestamp", "is missing or false; the time of arrival is taken")
        at = now
    sequence = said.whole("seqNo")
    if sequence is None:
        notes.add("seqNo", "is missing or false")
    return TransactionReported(
        step=step,
        transaction_id=transaction_id,
        at=at,
        evse=evse_id,
        connector=connector,
        token=token,
        readings=values,
        charging=info.word("chargingState", STATES),
        reason=_reason(info, step, reasons),
        trigger=said.text("triggerReason"),
        sequence=sequence,
        offline=said.flag("offline"),
        remote_start_id=info.whole("remoteStartId"),
        reservation_id=said.whole("reservationId"),
        deviations=notes.texts(),
    )


def _positive(evse: Fields, name: str) -> int | None:
    """An id of 1 or more; None when not said (others are noted)."""
    number = evse.whole(name)
    if number is None or number > 0:
        return number
    evse.notes.add(evse.path(name), f"{number} is none of a car's")
    return None


def _reason(info: Fields, step: TransactionStep, reasons: Words[StopReason]) -> StopReason | None:
    """Why it ended; a reason may be left out only when it is "Local"."""
    reason = info.word("stoppedReason", reasons)
    if reason is None and step is TransactionStep.ENDED:
        return StopReason.OTHER if info.text("stoppedReason") else StopReason.LOCAL
    return reason


def write_event(question: TransactionReported, answer: object, now: datetime) -> Payload:
    """TransactionEventResponse; a token that got no verdict is "Unknown"."""
    said: TransactionAnswer = expect(answer, TransactionAnswer)
    if question.token is None and said.token is None:
        return {}
    return {"idTokenInfo": write_verdict(said.token or TokenAnswer(Verdict.UNKNOWN))}


INBOUND: Mapping[str, Heard] = {"TransactionEvent": Heard(TransactionReported, read_event)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {TransactionReported: write_event}
OUTBOUND: Mapping[type[Command], Asked] = {}
