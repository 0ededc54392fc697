"""A step as a station told it, made fit to keep: a frame may hold anything.

Nothing is refused here. A number that no column holds, or that cannot be meant, becomes unknown.
"""

import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from csms.access.tokens.token import fold
from csms.stations.encoding import plain, storable
from csms.stations.questions import TransactionReported

LONGEST_ID = 64
HIGHEST_NUMBER = 999
LARGEST = 2**31 - 1
LARGEST_WH = 10**15

PLACEHOLDERS = frozenset({"", "0", "-1", str(LARGEST)})
"""Transaction ids that stations make up when they were given none (OCPP 1.6 errata 3.18: -1)."""


def clean_id(text: str | None) -> str | None:
    """A transaction id as it is kept and compared; None when nothing is left."""
    if text is None:
        return None
    if len(text) > LONGEST_ID or not text.isprintable() or text != text.strip():
        text = "".join(c for c in text if c.isprintable()).strip()[:LONGEST_ID]
    return text or None


def named(transaction_id: str | None) -> bool:
    """Whether the id can be one that means a transaction."""
    return transaction_id is not None and transaction_id not in PLACEHOLDERS


def clean_evse(number: int | None) -> int | None:
    """An EVSE's number; 0 and nonsense are unknown."""
    return number if number is not None and 0 < number <= HIGHEST_NUMBER else None


def clean(report: TransactionReported) -> TransactionReported:
    """`report` with what cannot be kept left out."""
    register_wh = report.register_wh
    if register_wh is not None and not -LARGEST_WH < register_wh < LARGEST_WH:
        register_wh = None
    return replace(
        report,
        transaction_id=clean_id(report.transaction_id),
        evse=clean_evse(report.evse),
        connector=clean_evse(report.connector),
        register_wh=register_wh,
        sequence=_bounded(report.sequence, low=0),
        remote_start_id=_bounded(report.remote_start_id, low=-LARGEST),
    )


def start_key(report: TransactionReported) -> str:
    """What recognises the repeat of a start that carries no id: all that it says, as it says it."""
    token = fold(report.token.text) if report.token else ""
    parts: Iterable[object] = (
        report.evse,
        report.connector,
        report.at.isoformat(),
        report.register_wh,
        token,
    )
    return "|".join("" if part is None else str(part) for part in parts)[:400]


def body(report: object) -> dict[str, Any]:
    """A step as a document for people, when it could not be filed."""
    document: dict[str, Any] = plain(report)
    try:
        json.dumps(document, allow_nan=False)
    except ValueError:
        return {"text": storable(repr(report))}
    return document


def _bounded(number: int | None, *, low: int) -> int | None:
    return number if number is not None and low <= number <= LARGEST else None
