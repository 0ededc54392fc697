"""Tokens and verdicts in OCPP 2.0.1 (block C; IdTokenType, IdTokenInfoType)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields, Words
from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect, plain_result
from csms.stations.commands import ClearCache, Command
from csms.stations.events import Event
from csms.stations.model import TokenAnswer, TokenKind, TokenRef, Verdict
from csms.stations.questions import MayCharge, Question

LONGEST_TOKEN = 36

KINDS = Words(
    {
        "ISO14443": TokenKind.RFID,
        "ISO15693": TokenKind.RFID,
        "eMAID": TokenKind.EMAID,
        "KeyCode": TokenKind.KEY_CODE,
        "Central": TokenKind.CENTRAL,
        "Local": TokenKind.LOCAL,
        "MacAddress": TokenKind.MAC_ADDRESS,
        "NoAuthorization": TokenKind.NONE,
    }
)

KIND_WORDS: Mapping[TokenKind, str] = {
    TokenKind.RFID: "ISO14443",
    TokenKind.EMAID: "eMAID",
    TokenKind.KEY_CODE: "KeyCode",
    TokenKind.CENTRAL: "Central",
    TokenKind.LOCAL: "Local",
    TokenKind.MAC_ADDRESS: "MacAddress",
    TokenKind.NONE: "NoAuthorization",
    TokenKind.OTHER: "Central",
}
"""A card is called ISO14443, by far the commoner of the two kinds of RFID (common practice)."""

VERDICTS: Mapping[Verdict, str] = {
    Verdict.ACCEPTED: "Accepted",
    Verdict.BLOCKED: "Blocked",
    Verdict.EXPIRED: "Expired",
    Verdict.UNKNOWN: "Unknown",
    Verdict.CONCURRENT: "ConcurrentTx",
    Verdict.NOT_HERE: "NotAtThisLocation",
    Verdict.NOT_NOW: "NotAtThisTime",
}


def read_token(said: Fields) -> TokenRef | None:
    """The IdToken; None when there is none. Only "NoAuthorization" may have an empty text."""
    if not said:
        return None
    kind = said.word("type", KINDS)
    if kind is TokenKind.NONE:
        return TokenRef(said.text("idToken"), TokenKind.NONE)
    text = said.text("idToken")
    if not text:
        said.notes.add(said.path("idToken"), "is missing")
        return None
    return TokenRef(text, kind or TokenKind.OTHER)


def write_token(token: TokenRef) -> Payload | Unsupported:
    """An IdToken of ours for a station."""
    if len(token.text) > LONGEST_TOKEN or (not token.text and token.kind is not TokenKind.NONE):
        return Unsupported(f"token: OCPP 2.0.1 carries 1 to {LONGEST_TOKEN} characters")
    return {"idToken": token.text, "type": KIND_WORDS[token.kind]}


def write_verdict(answer: TokenAnswer, longest: int = LONGEST_TOKEN) -> Payload:
    """IdTokenInfo. A group too long for the field is left out: stations compare it by text only."""
    wire: Payload = {"status": VERDICTS[answer.verdict]}
    if answer.expires_at is not None:
        wire["cacheExpiryDateTime"] = write_time(answer.expires_at)
    if answer.group and len(answer.group) <= longest:
        wire["groupIdToken"] = {"idToken": answer.group, "type": "Central"}
    return wire


def read_authorize(said: Fields, now: datetime) -> MayCharge:
    token = read_token(said.part("idToken"))
    if token is None:
        raise said.false("idToken", "is missing: there is nothing to authorize")
    return MayCharge(token)


def write_authorize(question: MayCharge, answer: object, now: datetime) -> Payload:
    """AuthorizeResponse."""
    return {"idTokenInfo": write_verdict(expect(answer, TokenAnswer))}


def write_clear_cache(command: ClearCache) -> Payload:
    return {}


INBOUND: Mapping[str, Heard] = {"Authorize": Heard(MayCharge, read_authorize)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {MayCharge: write_authorize}
OUTBOUND: Mapping[type[Command], Asked] = {
    ClearCache: Asked("ClearCache", write_clear_cache, plain_result),
}
