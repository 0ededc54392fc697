"""Which session does a step belong to?

Stations repeat steps, lose ids, use ids of others and tell the end before the beginning. A step
goes to a session only if there is no doubt; somebody else's session is never ended. What fits
nowhere is an orphan for a person to look at.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from csms.access.tokens.token import fold
from csms.sessions.intake import named
from csms.sessions.session import Mark, Session, State
from csms.stations.questions import TransactionReported, TransactionStep


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known at the station: the session with the step's id, the one that began with the very
    same words, the one that ended with them, those that have not ended, and whether the id is of another
    station's session."""

    by_id: Session | None = None
    same_start: Session | None = None
    same_stop: Session | None = None
    not_ended: Sequence[Session] = ()
    foreign: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """It belongs to `session`; `mark` when that had to be concluded."""

    session: Session
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class New:
    """It opens a session; `provisional` when it is not the session's start."""

    provisional: bool


@dataclass(frozen=True, slots=True)
class Orphan:
    """It belongs to no session that we know of."""

    reason: str


def match(report: TransactionReported, known: Known) -> Found | New | Orphan:
    """Where `report` belongs."""
    if known.by_id is not None:
        return Found(known.by_id)
    if report.step is TransactionStep.BEGAN:
        if report.transaction_id is None and known.same_start is not None:
            return Found(known.same_start)
        return New(provisional=False)
    if report.step is TransactionStep.UPDATED:
        if not named(report.transaction_id):
            return Orphan("an update without a transaction id")
        return Orphan(_foreign(report)) if known.foreign else New(provisional=True)
    if named(report.transaction_id) and report.sequence is not None and not known.foreign:
        # Ids that the station makes itself (OCPP 2.x): the start was lost, or is still to come.
        return New(provisional=True)
    if known.same_stop is not None:
        return Found(known.same_stop)
    fitting = [session for session in known.not_ended if _could_end(report, session)]
    if len(fitting) == 1:
        return Found(fitting[0], Mark.MATCHED_STOP)
    if known.foreign:
        return Orphan(_foreign(report))
    how_many = "no session" if not fitting else f"{len(fitting)} sessions"
    return Orphan(f"a stop for transaction {report.transaction_id or 'without id'}, which fits {how_many}")


def _could_end(report: TransactionReported, session: Session) -> bool:
    if session.state is State.ENDED or report.at < session.started_at:
        return False
    if report.evse is not None and session.evse is not None and report.evse != session.evse:
        return False
    start_wh = session.register_start_wh
    if report.register_wh is not None and start_wh is not None and report.register_wh < start_wh:
        return False
    # Someone else of the family may stop it: only a token that is the same speaks for the match,
    # and one that differs speaks against it.
    return report.token is None or fold(report.token.text) == session.token_folded


def _foreign(report: TransactionReported) -> str:
    return f"transaction {report.transaction_id} is another station's"
