"""Transaction events in OCPP 2.1 (block E): those of 2.0.1, one more reason, and longer tokens."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields, Words
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.ocpp.v21.authorization import write_verdict
from csms.ocpp.v201 import transactions as before
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import StopReason, TokenAnswer, Verdict
from csms.stations.questions import Question, TransactionAnswer, TransactionReported

REASONS = Words(
    {
        **{word: meaning for word in before.REASONS if (meaning := before.REASONS.read(word)) is not None},
        "ReqEnergyTransferRejected": StopReason.OTHER,
    }
)


def read_event(said: Fields, now: datetime) -> TransactionReported:
    return before.read_event(said, now, REASONS)


def write_event(question: TransactionReported, answer: object, now: datetime) -> Payload:
    """TransactionEventResponse; a token that got no verdict is "Unknown"."""
    said: TransactionAnswer = expect(answer, TransactionAnswer)
    if question.token is None and said.token is None:
        return {}
    return {"idTokenInfo": write_verdict(said.token or TokenAnswer(Verdict.UNKNOWN))}


INBOUND: Mapping[str, Heard | Spelled] = {"TransactionEvent": Heard(TransactionReported, read_event)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {TransactionReported: write_event}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {}
