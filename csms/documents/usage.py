"""The parts of a document that are about energy: the chart by day, and every session."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from csms.documents.charges import Part, column, has_vat, row, table
from csms.documents.sentence import Voice
from csms.ledger.statement import Flag, SessionLine, Statement

MARKS: dict[Flag, str] = {
    Flag.ESTIMATED: "≈",
    Flag.INTERPOLATED: "~",
    Flag.LATE: "L",
    Flag.SPLIT: "½",
    Flag.PRICE_MISSING: "P",
    Flag.REGISTER_RESET: "R",
    Flag.SIGNED_VALID: "✓",
    Flag.SIGNED_INVALID: "✗",
    Flag.SIGNED_UNCHECKED: "?",
}
"""One sign for each flag; what it means stands below the list."""

GUESSED = frozenset({Flag.ESTIMATED, Flag.INTERPOLATED})
MOST_TICKS = 4
LABELLED_UP_TO = 40
"""Days that get a number each fifth day; a longer period gets one at the first of each month."""


def chart(statement: Statement, voice: Voice) -> Part | None:
    """Energy of each day; None when there was none."""
    highest_wh = max((day.energy_wh for day in statement.days), default=0)
    if highest_wh <= 0:
        return None
    step_wh, top_wh = axis(highest_wh)
    guessed = guessed_days(statement.sessions, voice)
    bars = []
    for index, day in enumerate(statement.days):
        share = max(day.energy_wh, 0) / top_wh
        isguess = day.day in guessed
        bars.append(
            {
                "label": _label(day.day, index, len(statement.days)),
                "measured": 0 if isguess else share,
                "estimated": share if isguess else 0,
            }
        )
    ticks = [
        {"at": wh / top_wh, "label": voice.figures.shortest(Decimal(wh) / 1000, 0, 3)}
        for wh in range(0, top_wh + 1, step_wh)
    ]
    most = max(statement.days, key=lambda day: day.energy_wh)
    alt = voice.say(
        "chart.alt",
        total=voice.figures.energy(Decimal(statement.energy_wh) / 1000),
        day=voice.figures.short_day(most.day),
        most=voice.figures.energy(Decimal(most.energy_wh) / 1000),
    )
    shown = any(day.day in guessed and day.energy_wh > 0 for day in statement.days)
    key = [{"estimated": False, "text": voice.say("chart.measured")}]
    key += [{"estimated": True, "text": voice.say("chart.estimated")}] if shown else []
    title = voice.say("chart.title")
    return {"kind": "chart", "title": title, "bars": bars, "ticks": ticks, "alt": alt, "key": key}


def axis(highest_wh: int) -> tuple[int, int]:
    """Step and end of an axis that holds `highest_wh` in at most MOST_TICKS steps of 1, 2 or 5."""
    step = 1
    while True:
        for factor in (1, 2, 5):
            if factor * step * MOST_TICKS >= highest_wh:
                each = factor * step
                return each, -(-highest_wh // each) * each
        step *= 10


def guessed_days(sessions: Iterable[SessionLine], voice: Voice) -> frozenset[date]:
    """Local days on which a session was that is estimated or interpolated."""
    days: set[date] = set()
    for session in sessions:
        if GUESSED & set(session.flags):
            first = session.start.astimezone(voice.figures.zone).date()
            # A part that ends at midnight has nothing on the day that then begins.
            last = (session.stop - timedelta(microseconds=1)).astimezone(voice.figures.zone).date()
            days |= {first + timedelta(days=n) for n in range((max(last, first) - first).days + 1)}
    return frozenset(days)


def _label(day: date, index: int, count: int) -> str:
    if count > LABELLED_UP_TO:
        return f"{day.day}.{day.month}." if day.day == 1 or index == 0 else ""
    return str(day.day) if index == 0 or day.day % 5 == 0 else ""


def sessions(statement: Statement, voice: Voice) -> Part:
    """Every session with its registers."""
    say = voice.say
    title = say("sessions.title")
    if not statement.sessions:
        return {"kind": "text", "title": title, "intro": [say("sessions.none")]}
    marked = any(session.flags for session in statement.sessions)
    amount = say("lines.net" if has_vat(statement) else "lines.amount")
    columns = [
        column(say("sessions.start")),
        column(say("sessions.stop")),
        column(say("sessions.charger"), fill=True),
        column(say("sessions.card")),
        column(say("sessions.register_start"), right=True),
        column(say("sessions.register_stop"), right=True),
        column(say("sessions.energy"), right=True),
        column(amount, right=True),
        *([column("")] if marked else []),
    ]
    blank = [""] if marked else []
    rows = [_session(session, voice, marked) for session in statement.sessions]
    energy_wh = sum(session.energy_wh for session in statement.sessions)
    cost_minor = sum(session.cost_minor for session in statement.sessions)
    count = say("sessions.sum", count=str(len(statement.sessions)))
    summed = voice.figures.number(Decimal(energy_wh) / 1000, 3)
    rows.append(row(count, "", "", "", "", "", summed, voice.money(cost_minor), *blank, strong=True))
    notes = [say("sessions.meters"), *_legend(statement.sessions, voice)]
    return table(title, columns, rows, dense=True, notes=notes)


def _session(session: SessionLine, voice: Voice, marked: bool) -> dict[str, Any]:
    kwh = voice.figures.number
    registers = (session.register_start_wh, session.register_stop_wh)
    return row(
        voice.figures.moment(session.start),
        voice.figures.moment(session.stop),
        session.station,
        session.token,
        *("–" if wh is None else kwh(Decimal(wh) / 1000, 3) for wh in registers),
        kwh(Decimal(session.energy_wh) / 1000, 3),
        voice.money(session.cost_minor),
        *([" ".join(MARKS[flag] for flag in Flag if flag in session.flags)] if marked else []),
    )


def _legend(sessions: Sequence[SessionLine], voice: Voice) -> list[str]:
    used = {flag for session in sessions for flag in session.flags}
    told = [f"{MARKS[flag]}  {voice.say(f'flag.{flag.value}')}" for flag in Flag if flag in used]
    return ["    ".join(told)] if told else []
