"""Puts a step into a session. Free of order: the same steps give the same session."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from csms.access.verdict.decide import Decision
from csms.metering.series import Flag, Meter, Point, Source, measure
from csms.sessions import sequence
from csms.sessions.session import CHARGING_EVENTS, TRANSITIONS, Event, Mark, Session, State
from csms.stations.model import ChargingState, Reading, ReadingContext, StopReason
from csms.stations.questions import TransactionReported, TransactionStep
from csms.units import NOMINAL_VOLTAGE_V

_FLAGS = frozenset(flag.value for flag in Flag)


def new_session(station_id: str, site_id: str | None, report: TransactionReported, now: datetime) -> Session:
    """A session that `report` opens; its step is still to be put in."""
    return Session(
        station_id=station_id,
        site_id=site_id,
        transaction_id=report.transaction_id,
        state=State.PROVISIONAL,
        started_at=report.at,
        arrived_at=now,
        marks={Mark.NO_START_SEEN.value: True},
    )


def put_in(session: Session, report: TransactionReported) -> Session:
    """The session after `report`, before its energy is measured anew."""
    session = _numbered(session, report)
    if session.evse is None:
        session = replace(session, evse=report.evse)
    if session.connector is None:
        session = replace(session, connector=report.connector)
    if session.remote_start_id is None:
        session = replace(session, remote_start_id=report.remote_start_id)
    match report.step:
        case TransactionStep.BEGAN:
            session = _begun(session, report)
        case TransactionStep.ENDED:
            session = _ended(session, report)
        case TransactionStep.UPDATED:
            pass
    if not session.start_seen:
        first = min([session.started_at, report.at, *(reading.at for reading in report.readings)])
        session = replace(session, started_at=first)
    return _settled(session)


def put_in_charging(session: Session, charging: ChargingState) -> Session:
    """The session after the car's condition became `charging`."""
    if not session.open:
        return session
    event = CHARGING_EVENTS.get(charging)
    state = session.state if event is None else TRANSITIONS[session.state, event]
    return replace(session, state=state, charging=charging)


def is_news(session: Session, report: TransactionReported) -> bool:
    """Whether the report's condition of the car is the latest: by number, where they are numbered."""
    newest = session.last_sequence
    return report.sequence is None or newest is None or report.sequence > newest


def put_in_decision(session: Session, decision: Decision) -> Session:
    """Who charges, and whether they may."""
    return replace(
        session,
        token_folded=decision.folded,
        token_text=decision.presented.text.replace("\x00", "")[:255],
        token_id=decision.token_id,
        member_id=decision.member_id,
        verdict=decision.verdict.value,
        verdict_reason=decision.reason.value,
    )


def marked(session: Session, mark: Mark | Flag, detail: Any = True) -> Session:
    """The session with `mark`; what was said of it first stays."""
    if mark.value in session.marks:
        return session
    return replace(session, marks={**session.marks, mark.value: detail})


def unmarked(session: Session, mark: Mark) -> Session:
    if mark.value not in session.marks:
        return session
    return replace(session, marks={m: d for m, d in session.marks.items() if m != mark.value})


def closed(session: Session, at: datetime, mark: Mark, detail: Any = True) -> Session:
    """The session as we assume it ended: at its last sign of life, not later than `at`."""
    if not session.open:
        return session
    last = session.register_last_at or session.started_at
    return marked(
        replace(
            session,
            state=TRANSITIONS[session.state, Event.CLOSES],
            charging=ChargingState.IDLE,
            ended_at=max(session.started_at, min(last, at)),
        ),
        mark,
        detail,
    )


def points_of(session: Session, stored: tuple[Point, ...]) -> list[Point]:
    """All register values of a session: those of its readings, its start's and its stop's."""
    points = list(stored)
    if session.start_seen and session.register_start_wh is not None:
        points.append(Point(session.started_at, session.register_start_wh, Source.START))
    if session.state is State.ENDED and session.register_stop_wh is not None:
        ended_at = session.ended_at or session.started_at
        points.append(Point(ended_at, session.register_stop_wh, Source.STOP))
    return points


def remeasured(session: Session, stored: tuple[Point, ...], max_power_w: float) -> tuple[Session, Meter]:
    """The session with the energy of all its registers, and where its meter stands."""
    meter = measure(
        points_of(session, stored),
        max_power_w=max_power_w,
        started_at=session.started_at,
        ended_at=session.ended_at if session.state is State.ENDED else None,
    )
    marks = {mark: detail for mark, detail in session.marks.items() if mark not in _FLAGS}
    marks.update({flag.value: True for flag in meter.flags})
    changed = replace(
        session,
        energy_wh=meter.energy_wh,
        register_last_wh=meter.last_wh,
        register_last_at=meter.last_at,
        marks=marks,
    )
    if session.state is State.CLOSED and meter.last_at is not None:
        # It was assumed to be over, and went on.
        changed = replace(changed, ended_at=max(session.ended_at or meter.last_at, meter.last_at))
    return changed, meter


def max_power_w(max_current_a: float) -> float:
    """The most that a station with that current per line can give: all three lines."""
    return max_current_a * NOMINAL_VOLTAGE_V * 3


def _begun(session: Session, report: TransactionReported) -> Session:
    if session.start_seen:
        return session
    session = unmarked(session, Mark.NO_START_SEEN)
    start_wh = report.register_wh
    if start_wh is None:
        start_wh = _register(report.readings, ReadingContext.BEGIN)
    charging = session.charging
    session = replace(
        session,
        state=TRANSITIONS[session.state, Event.BEGAN],
        started_at=report.at,
        evse=report.evse if report.evse is not None else session.evse,
        connector=report.connector if report.connector is not None else session.connector,
        register_start_wh=start_wh,
    )
    return put_in_charging(session, charging)


def _ended(session: Session, report: TransactionReported) -> Session:
    stop_wh = report.register_wh
    if stop_wh is None:
        stop_wh = _register(report.readings, ReadingContext.END)
    if session.state is State.ENDED:
        same_time = session.ended_at == report.at or Mark.CLOCK_OFF in session.marks
        if (same_time and session.register_stop_wh == stop_wh) or Mark.STOP_CONFLICT in session.marks:
            return session
        # The first stop counts; that there was another is for a person to see.
        other = {"at": report.at.isoformat(), "register_wh": stop_wh}
        return marked(session, Mark.STOP_CONFLICT, other)
    session = unmarked(unmarked(session, Mark.NO_STOP_SEEN), Mark.CLOSED_BY_HAND)
    return replace(
        session,
        state=TRANSITIONS[session.state, Event.ENDS],
        charging=ChargingState.IDLE,
        ended_at=report.at,
        register_stop_wh=stop_wh,
        stop_reason=report.reason or StopReason.LOCAL,
    )


def _settled(session: Session) -> Session:
    """A session cannot end before it began: then one of the two times is wrong."""
    if session.state is State.ENDED and session.ended_at and session.ended_at < session.started_at:
        return marked(replace(session, ended_at=session.started_at), Mark.CLOCK_OFF)
    return session


def _numbered(session: Session, report: TransactionReported) -> Session:
    if report.sequence is None:
        return session
    runs = sequence.restored(session.marks.get(Mark.SEQUENCE_GAP.value), session.last_sequence)
    runs = sequence.seen(runs, report.sequence)
    last = runs[-1][1]
    began = session.start_seen or report.step is TransactionStep.BEGAN
    if began and len(runs) == 1:
        return replace(unmarked(session, Mark.SEQUENCE_GAP), last_sequence=last)
    session = unmarked(session, Mark.SEQUENCE_GAP)
    if began:
        # Nothing can be missing before the beginning, wherever the numbers start.
        runs = ((0, runs[0][1]), *runs[1:])
    return replace(marked(session, Mark.SEQUENCE_GAP, [list(run) for run in runs]), last_sequence=last)


def _register(readings: tuple[Reading, ...], context: ReadingContext) -> int | None:
    told = [r.register_wh for r in readings if r.context is context and r.register_wh is not None]
    return told[-1] if told else None
