"""What a token is, and how two spellings of one are recognised as the same.

OCPP's identifiers are case-insensitive in every version (OCPP 1.6 section 7.15 and 7.28), and
readers differ in how they set a card's bytes apart. So tokens are compared by a folded form:
no blanks, no separators, no control characters, lower case. Byte order and decimal spellings
are not guessed: two cards could become one.
"""

import hashlib
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import TypedDict

from csms.errors import InvalidInput
from csms.stations.model import TokenKind

LONGEST_TEXT = 255
LONGEST_LABEL = 120

WITHOUT_CARD = frozenset({TokenKind.NONE, TokenKind.LOCAL})
"""Kinds that name nobody: the station let someone charge by itself, e.g. by a key switch."""

_SEPARATORS = str.maketrans("", "", " -:._/\t\r\n\u00a0")


def fold(text: str) -> str:
    """The form of a token that comparisons use, at most 255 characters; empty when nothing is left."""
    folded = text.translate(_SEPARATORS).casefold()
    if not (folded.isascii() and folded.isalnum()):
        before = ""
        while folded != before:  # Composing can bring forth what has a simpler form again.
            before = folded
            folded = unicodedata.normalize("NFKC", folded).translate(_SEPARATORS).casefold()
            folded = "".join(c for c in folded if unicodedata.category(c)[0] not in "CZ")
    if len(folded) > LONGEST_TEXT:
        # Two endless texts with one beginning must not become one token.
        folded = f"{folded[:128]}~{hashlib.sha256(folded.encode(errors='replace')).hexdigest()}"
    return folded


def shown(text: str) -> str:
    """`text` as it can be stored and shown: one line, at most 255 characters."""
    return "".join(c for c in text if c.isprintable()).strip()[:LONGEST_TEXT]


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """`text` is how it was first spelled, `group_text` the parent (group) token that stations are told.

    Valid from `valid_from` (inclusive) to `valid_to` (exclusive), where given.
    """

    id: str
    folded: str
    text: str
    kind: TokenKind
    member_id: str
    label: str = ""
    group_text: str = ""
    valid_from: datetime | None = None
    valid_to: datetime | None = None
    blocked: bool = False
    created_at: datetime


class TokenChanges(TypedDict, total=False):
    """What may be changed of a token; what is left out stays."""

    label: str
    member_id: str
    group_text: str
    valid_from: datetime | None
    valid_to: datetime | None
    blocked: bool


def check_token(token: Token) -> Token:
    """`token` in its final form; InvalidInput names the field that is wrong."""
    text = shown(token.text)
    if len(token.text.strip()) > LONGEST_TEXT:
        raise InvalidInput("text", f"has {len(token.text)} characters; OCPP allows {LONGEST_TEXT}")
    folded = fold(text)
    if not folded:
        raise InvalidInput("text", "must hold at least one letter or digit")
    if token.kind in WITHOUT_CARD:
        raise InvalidInput("kind", f"{token.kind} names nobody; give the kind of the card or code")
    label = token.label.strip()
    if len(label) > LONGEST_LABEL or (label and not label.isprintable()):
        raise InvalidInput("label", f"must be one line of at most {LONGEST_LABEL} characters")
    for field, instant in (("valid_from", token.valid_from), ("valid_to", token.valid_to)):
        if instant is not None and instant.tzinfo is None:
            raise InvalidInput(field, "needs a time zone, e.g. 2026-11-01T00:00:00Z")
    if token.valid_from and token.valid_to and token.valid_from >= token.valid_to:
        raise InvalidInput("valid_to", "must be later than valid_from")
    return Token(
        id=token.id,
        folded=folded,
        text=text,
        kind=token.kind,
        member_id=token.member_id,
        label=label,
        group_text=shown(token.group_text),
        valid_from=token.valid_from,
        valid_to=token.valid_to,
        blocked=token.blocked,
        created_at=token.created_at,
    )
