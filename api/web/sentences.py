"""Facts of the outbox as sentences for people. Pure; one row per topic."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from api.web.site_view import kilowatt_hours

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Event:
    """`tone` colours the sentence: good, wait, bad or nothing."""

    at: datetime
    says: str
    tone: str = ""


def _bay(body: Body) -> str:
    evse = body.get("evse")
    return f"{body.get('station') or '?'}" + (f" / {evse}" if isinstance(evse, int) and evse > 1 else "")


def _who(body: Body) -> str:
    return str(body.get("member") or f"card {body.get('token') or '?'}")


def _cost(body: Body) -> str:
    return f"{body.get('cost_incl') or body.get('cost_excl')} {body.get('currency')}"


def _though(body: Body) -> str:
    """A charger that was out of reach may have begun by itself what would have been refused."""
    verdict = body.get("verdict") or "accepted"
    return "" if verdict == "accepted" else f", though the card is {str(verdict).replace('_', ' ')}"


def _where(body: Body) -> str:
    return _bay(body) if body.get("station") else str(body.get("circuit") or "The site")


def _problem(body: Body) -> str:
    problem = str(body.get("problem") or "")
    return f": {problem}" if problem else ""


def _cap(body: Body) -> str:
    reason = str(body.get("reason") or "")
    return f"at most {float(body.get('cap_w') or 0) / 1000:g} kW at {body.get('circuit')}" + (
        f" ({reason})" if reason else ""
    )


SENTENCES: Mapping[str, tuple[str, Callable[[Body], str]]] = {
    "session.started": ("", lambda b: f"{_who(b)} plugged in at {_bay(b)}{_though(b)}."),
    "session.ended": (
        "",
        lambda b: f"{_who(b)} ended at {_bay(b)} with {kilowatt_hours(int(b.get('energy_wh') or 0))}.",
    ),
    "session.priced": ("", lambda b: f"The session of {_who(b)} at {_bay(b)} costs {_cost(b)}."),
    "session.unpriced": ("wait", lambda b: f"The session at {_bay(b)} has no price: {b.get('reason')}."),
    "session.marked": ("wait", lambda b: f"The session at {_bay(b)} is marked: {b.get('mark')}."),
    "token.refused": ("bad", lambda b: f"Refused at {_bay(b)}: {b.get('sentence')}."),
    "token.unknown": ("bad", lambda b: f"Unknown card {b.get('token')} held to {_bay(b)}: refused."),
    "token.changed": ("", lambda b: f"Card {b.get('token')} of {b.get('member')}: {b.get('change')}."),
    "member.changed": ("", lambda b: f"Member {b.get('member')}: {b.get('change')}."),
    "group.changed": ("", lambda b: f"Group {b.get('group')}: {b.get('change')}."),
    "right.changed": ("", lambda b: f"A right: {b.get('change')}."),
    "station.connected": ("", lambda b: f"{_bay(b)} is connected."),
    "station.lost": ("bad", lambda b: f"{_bay(b)} has lost its connection."),
    "station.booted": ("", lambda b: f"{_bay(b)} has started."),
    "station.status": ("", lambda b: f"{_bay(b)}: {str(b.get('status')).replace('_', ' ')}."),
    "station.created": ("", lambda b: f"{_bay(b)} was added."),
    "cap.asked": ("wait", lambda b: f"Asked from outside: {_cap(b)}."),
    "cap.withdrawn": ("", lambda b: f"Taken back from outside: {_cap(b)}."),
    "meter.silent": ("bad", lambda b: f"The meter of {b.get('circuit')} is silent{_problem(b)}."),
    "meter.back": ("", lambda b: f"The meter of {b.get('circuit')} tells again."),
    "alarm.raised": ("bad", lambda b: f"Alarm: {_where(b)}: {b.get('title')}."),
    "alarm.acknowledged": ("", lambda b: f"{_where(b)}: {b.get('title')}: {b.get('by')} sees to it."),
    "alarm.cleared": ("", lambda b: f"{_where(b)}: {b.get('title')}: over."),
    "station.commissioned": ("", lambda b: f"{_bay(b)} has joined its place."),
    "station.wrong_serial": ("bad", lambda b: f"{_bay(b)} is another charger than expected."),
    "station.wiring_checked": ("", lambda b: f"The wiring of {_bay(b)} was checked."),
    "command.done": (
        "",
        lambda b: f"{_bay(b)} was asked: {b.get('command')}. Answer: {b.get('status') or b.get('state')}.",
    ),
    "site.created": ("", lambda b: f"Site {b.get('site')} was created."),
    "circuit.created": ("", lambda b: f"Circuit {b.get('circuit')} was created."),
}
"""Topic to tone and sentence. What is not here is not shown to people."""

QUIET = frozenset({"station.status", "site.created", "circuit.created", "station.created", "command.done"})
"""Too many or too technical for the list of latest events."""


NAMED = ("member", "station", "circuit", "group")
"""Entries of a body that may hold an id, for which people know a name."""


def sentence(topic: str, body: Body, at: datetime, names: Mapping[str, str]) -> Event | None:
    """The fact in words, with `names` for ids; None when it is not for the page."""
    if topic in QUIET or topic not in SENTENCES:
        return None
    tone, says = SENTENCES[topic]
    known = {key: names.get(str(body[key]), body[key]) for key in NAMED if key in body}
    if "sentence" in body and "station" in body:
        known["sentence"] = str(body["sentence"]).replace(str(body["station"]), str(known["station"]))
    return Event(at, says({**body, **known}), tone)


REFUSALS = ("token.refused", "token.unknown")


def refusals(facts: Iterable[tuple[str, str, Body]]) -> dict[tuple[str, int], str]:
    """Why the card last held to an EVSE was refused; `facts` (topic, subject, body), the newest first.

    A session at the EVSE since then, or its being free again, makes a refusal a thing of the past.
    """
    found: dict[tuple[str, int], str] = {}
    over: set[tuple[str, int]] = set()
    for topic, subject, body in facts:
        station_id = body.get("station") if topic.startswith("session.") else subject
        key = (str(station_id), int(body.get("evse") or 1))
        if topic in REFUSALS and key not in over:
            found.setdefault(key, str(body.get("sentence") or "unknown card"))
        elif topic.startswith("session.") or (
            topic == "station.status" and body.get("status") == "available"
        ):
            over.add(key)
    return found
