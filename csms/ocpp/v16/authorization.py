"""Tokens and verdicts in OCPP 1.6 (sections 4.1, 5.4, 7.2, 7.15, 7.28)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect, plain_result
from csms.stations.commands import ClearCache, Command
from csms.stations.events import Event
from csms.stations.model import TokenAnswer, TokenKind, TokenRef, Verdict
from csms.stations.questions import MayCharge, Question

LONGEST_TAG = 20

VERDICTS: Mapping[Verdict, str] = {
    Verdict.ACCEPTED: "Accepted",
    Verdict.BLOCKED: "Blocked",
    Verdict.EXPIRED: "Expired",
    Verdict.UNKNOWN: "Invalid",
    Verdict.CONCURRENT: "ConcurrentTx",
    Verdict.NOT_HERE: "Blocked",
    Verdict.NOT_NOW: "Blocked",
}
"""1.6 has no word for a known token at the wrong place or time; Invalid would mean unknown."""


def read_token(said: Fields, name: str = "idTag") -> TokenRef | None:
    """The token as the station spells it, without blanks around; None when there is none."""
    text = said.text(name)
    return TokenRef(text, TokenKind.RFID) if text else None


def write_verdict(answer: TokenAnswer) -> Payload:
    """IdTagInfo. A group too long for the field is left out: stations compare it by text only."""
    wire: Payload = {"status": VERDICTS[answer.verdict]}
    if answer.expires_at is not None:
        wire["expiryDate"] = write_time(answer.expires_at)
    if answer.group and len(answer.group) <= LONGEST_TAG:
        wire["parentIdTag"] = answer.group
    return wire


def read_authorize(said: Fields, now: datetime) -> MayCharge:
    token = read_token(said)
    if token is None:
        raise said.false("idTag", "is missing: there is nothing to authorize")
    return MayCharge(token)


def write_authorize(question: MayCharge, answer: object, now: datetime) -> Payload:
    """Authorize.conf."""
    return {"idTagInfo": write_verdict(expect(answer, TokenAnswer))}


def write_clear_cache(command: ClearCache) -> Payload:
    return {}


INBOUND: Mapping[str, Heard] = {"Authorize": Heard(MayCharge, read_authorize)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {MayCharge: write_authorize}
OUTBOUND: Mapping[type[Command], Asked] = {
    ClearCache: Asked("ClearCache", write_clear_cache, plain_result),
}
