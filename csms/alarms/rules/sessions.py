"""Sessions whose energy or price somebody has to look at."""

from csms.alarms.signs import Begun, Over, Sign
from csms.metering.series import Flag
from csms.sessions.session import Mark
from csms.store.fact import Fact

REGISTER_MARKS = frozenset(str(mark) for mark in (*Flag, Mark.STOP_CONFLICT, Mark.NO_START_SEEN))


def signs(fact: Fact) -> tuple[Sign, ...]:
    body, number = fact.body, fact.subject
    where = {"station_id": body.get("station"), "evse": body.get("evse")}
    match fact.topic:
        case "session.marked" if body.get("mark") in REGISTER_MARKS:
            told = {"session": number, "mark": body.get("mark"), "detail": body.get("detail")}
            return (Begun(kind="register_fault", thing=f"session {number}", detail=told, **where),)
        case "session.orphan":
            told = {"step": body.get("step"), "reason": body.get("reason")}
            station = body.get("station")
            return (Begun(kind="session_unassigned", thing=str(station), station_id=station, detail=told),)
        case "session.unpriced":
            told = {"session": number, "reason": body.get("reason")}
            return (Begun(kind="session_unpriced", thing=f"session {number}", detail=told, **where),)
        case "session.priced":
            return (Over(frozenset({"session_unpriced"}), f"session {number}"),)
    return ()
