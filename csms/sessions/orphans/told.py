"""A step read back from the document in which it was kept (the inverse of `intake.body`)."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from csms.stations.model import NO_LINES, PerLine, Reading, ReadingContext, StopReason
from csms.stations.questions import TransactionReported, TransactionStep
from csms.stations.signed import SignedValue


def step_of(body: object) -> TransactionReported | None:
    """What was told of times, registers and readings; None for what cannot be read back.

    Whose it was (transaction, EVSE, token) is left out: that is what a person decides. Readings
    that came without a step of a transaction are an update.
    """
    if not isinstance(body, Mapping) or not isinstance(body.get("readings"), list):
        return None
    try:
        readings = tuple(_reading(each) for each in body["readings"])
        step = TransactionStep(body.get("step", TransactionStep.UPDATED))
        if "at" not in body and not readings:
            return None
        reason = body.get("reason")
        return TransactionReported(
            step=step,
            transaction_id=None,
            at=_instant(body["at"]) if "at" in body else readings[0].at,
            register_wh=body.get("register_wh"),
            readings=readings,
            reason=None if reason is None else StopReason(reason),
            offline=bool(body.get("offline")),
        )
    except (KeyError, TypeError, ValueError):
        return None


def _reading(told: Mapping[str, Any]) -> Reading:
    return Reading(
        at=_instant(told["at"]),
        context=ReadingContext(told["context"]),
        register_wh=told.get("register_wh"),
        power_w=told.get("power_w"),
        current_a=_lines(told.get("current_a")),
        voltage_v=_lines(told.get("voltage_v")),
        line_power_w=_lines(told.get("line_power_w")),
        offered_a=told.get("offered_a"),
        temperature_c=told.get("temperature_c"),
        soc_percent=told.get("soc_percent"),
        signed=tuple(SignedValue(**each) for each in told.get("signed") or ()),
        others=tuple((a, b, c, d) for a, b, c, d in told.get("others") or ()),
    )


def _lines(told: Any) -> PerLine:
    if told is None:
        return NO_LINES
    one, two, three = told
    return (one, two, three)


def _instant(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.tzinfo is None:
        raise ValueError("an instant needs a time zone")
    return at
