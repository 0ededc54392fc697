"""Transaction events in OCPP 2.1 (block E): one more reason, longer tokens, what a station calculated."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from functools import cache

from csms.ocpp.adapter import Unreadable
from csms.ocpp.fields import Fields, Words
from csms.ocpp.schemas import Part, schema
from csms.ocpp.shapes import Shape, resolve
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.ocpp.v21.authorization import write_verdict
from csms.ocpp.v201 import transactions as before
from csms.ocpp.version import Version
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import StopReason, TokenAnswer, Verdict
from csms.stations.questions import Question, TransactionAnswer, TransactionReported
from csms.stations.words.costs import CostReported

REASONS = Words(
    {
        **{word: meaning for word in before.REASONS if (meaning := before.REASONS.read(word)) is not None},
        "ReqEnergyTransferRejected": StopReason.OTHER,
    }
)


_PARTS = {
    "currency": "currency",
    "kind": "typeOfCost",
    "total": "total",
    "fixed": "fixed",
    "energy": "energy",
    "charging_time": "chargingTime",
    "idle_time": "idleTime",
    "reservation_time": "reservationTime",
    "reservation_fixed": "reservationFixed",
}
COST: Mapping[str, str] = {
    **{ours: f"totalCost.{wire}" for ours, wire in _PARTS.items()},
    "usage_energy": "totalUsage.energy",
    "usage_charging_time": "totalUsage.chargingTime",
    "usage_idle_time": "totalUsage.idleTime",
    "failed": "failureToCalculate",
    "failure": "failureReason",
}


def read_event(said: Fields, now: datetime) -> TransactionReported:
    """As in 2.0.1, with what the station calculated. A cost that makes no sense is left out and noted."""
    event = before.read_event(said, now, REASONS)
    details = said.part("costDetails")
    if not details:
        return event
    try:
        return replace(event, cost=_cost_shape().read(details))
    except Unreadable as error:
        return replace(event, deviations=(*event.deviations, str(error)))


@cache
def _cost_shape() -> Shape:
    whole = schema(Version.OCPP21, "TransactionEvent", Part.REQUEST)
    node = resolve(whole["properties"]["costDetails"], whole["definitions"])
    return Shape(CostReported, node, whole["definitions"], "OCPP 2.1", COST)


def write_event(question: TransactionReported, answer: object, now: datetime) -> Payload:
    """TransactionEventResponse; a token that got no verdict is "Unknown"."""
    said: TransactionAnswer = expect(answer, TransactionAnswer)
    if question.token is None and said.token is None:
        return {}
    return {"idTokenInfo": write_verdict(said.token or TokenAnswer(Verdict.UNKNOWN))}


INBOUND: Mapping[str, Heard | Spelled] = {"TransactionEvent": Heard(TransactionReported, read_event)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {TransactionReported: write_event}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {}
