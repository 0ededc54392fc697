"""Tokens in OCPP 2.1: longer ones, of kinds that anybody may name (block C)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.ocpp.v201 import authorization as v201
from csms.ocpp.v201.authorization import KIND_WORDS, KINDS
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.model import TokenAnswer, TokenKind, TokenRef
from csms.stations.questions import MayCharge, Question

LONGEST_TOKEN = 255


def read_token(said: Fields) -> TokenRef | None:
    """The IdToken; a kind that we do not know is OTHER, as the list of them is open."""
    if not said:
        return None
    kind = KINDS.read(said.raw("type")) or TokenKind.OTHER
    text = said.text("idToken")
    if not text and kind is not TokenKind.NONE:
        said.notes.add(said.path("idToken"), "is missing")
        return None
    return TokenRef(text, kind)


def write_token(token: TokenRef) -> Payload | Unsupported:
    """An IdToken of ours for a station."""
    if len(token.text) > LONGEST_TOKEN or (not token.text and token.kind is not TokenKind.NONE):
        return Unsupported(f"token: OCPP 2.1 carries 1 to {LONGEST_TOKEN} characters")
    return {"idToken": token.text, "type": KIND_WORDS[token.kind]}


def write_verdict(answer: TokenAnswer) -> Payload:
    """IdTokenInfo, as in 2.0.1 but for longer groups."""
    return v201.write_verdict(answer, LONGEST_TOKEN)


def read_authorize(said: Fields, now: datetime) -> MayCharge:
    token = read_token(said.part("idToken"))
    if token is None:
        raise said.false("idToken", "is missing: there is nothing to authorize")
    return MayCharge(token)


def write_authorize(question: MayCharge, answer: object, now: datetime) -> Payload:
    """AuthorizeResponse."""
    return {"idTokenInfo": write_verdict(expect(answer, TokenAnswer))}


INBOUND: Mapping[str, Heard | Spelled] = {"Authorize": Heard(MayCharge, read_authorize)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {MayCharge: write_authorize}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {}
