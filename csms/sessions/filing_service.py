"""Files a step in the transaction of the caller: session, readings, pauses, verdict, facts.

May be run again for the same step: by a station that repeats it, or by the group commit.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from csms.access.tokens.token import WITHOUT_CARD, fold, shown
from csms.access.verdict.decide import Decision
from csms.access.verdict.service import Judge
from csms.metering.service import ReadingsService
from csms.sessions import intake, pauses, repository, steps
from csms.sessions.live import Live, live_of
from csms.sessions.reconcile import Found, Known, New, Orphan, match
from csms.sessions.session import Mark, Session, State
from csms.stations.model import ChargingState, TokenAnswer, Verdict
from csms.stations.questions import TransactionAnswer, TransactionReported, TransactionStep
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put

DEFAULT_MAX_CURRENT_A = 32.0
_SILENT_MARKS = frozenset({Mark.SEQUENCE_GAP.value, Mark.NO_START_SEEN.value})
"""Marks that may pass by themselves: told of when the session ends."""


@dataclass(frozen=True, slots=True)
class Filed:
    """What came of a step. `live` while the session runs; `over`: ids of sessions that no longer do."""

    answer: TransactionAnswer
    session: Session | None = None
    live: Live | None = None
    over: tuple[int, ...] = field(default=())
    began: bool = False


class Filing:
    """Puts steps into the database."""

    def __init__(self, database: Database, judge: Judge, readings: ReadingsService) -> None:
        self._dialect = database.dialect
        self._judge = judge
        self._readings = readings

    async def file(
        self,
        connection: Connection,
        station_id: str,
        report: TransactionReported,
        now: datetime,
        *,
        start_key: str | None = None,
        clock_off: bool = False,
        held: Iterable[int | None] = (),
    ) -> Filed:
        """Put `report` where it belongs. `start_key` recognises a start without an id."""
        facts = await repository.station_facts(connection, station_id)
        site_id, max_current_a = facts or (None, DEFAULT_MAX_CURRENT_A)
        if report.evse is None and report.step is TransactionStep.BEGAN:
            report = replace(report, evse=await repository.only_evse(connection, station_id))
        known = await self._known(connection, station_id, report, start_key)
        place = match(report, known)
        if isinstance(place, Orphan):
            await self._orphan(connection, station_id, site_id, report, now, place.reason)
            return Filed(await self._orphan_answer(connection, station_id, report, now))
        if isinstance(place, New):
            before = steps.new_session(station_id, site_id, report, now)
            if report.transaction_id is None:
                before = replace(before, start_key=start_key)
            before = await self._insert(connection, before)
        else:
            before = place.session
        began = isinstance(place, New)
        session = before
        if isinstance(place, Found) and place.mark is not None:
            session = steps.marked(session, place.mark, report.transaction_id or "")
        if clock_off:
            session = steps.marked(session, Mark.CLOCK_OFF)
        news = steps.is_news(session, report)
        session = steps.put_in(session, report)
        answer, session = await self._token(connection, before, session, report, now)
        if report.charging is not None and news:
            session = steps.put_in_charging(session, report.charging)
        evse = session.evse
        await self._readings.add_new(connection, station_id, evse, session.id, report.readings)
        over: tuple[int, ...] = ()
        if report.step is TransactionStep.BEGAN and session.open and not before.start_seen:
            over = await self._supersede(connection, session)
        session, live = await self._store(connection, session, max_current_a)
        if began or session.charging is not before.charging or session.state is not before.state:
            await self._pause(connection, session, session.ended_at or report.at, held=evse in held)
        await self._tell(connection, before, session, now, began=began)
        if live is None:
            over = (*over, session.id)
        return Filed(
            TransactionAnswer(session.transaction_id or str(session.id), answer), session, live, over, began
        )

    async def file_readings(
        self,
        connection: Connection,
        station_id: str,
        evse: int | None,
        report: TransactionReported,
        now: datetime,
        *,
        clock_off: bool,
        held: Iterable[int | None],
    ) -> Filed | None:
        """Readings of a transaction that is not running: late ones, or of one whose start was lost.

        None when they are nobody's: another station's transaction, or an id of old while another
        session runs on that EVSE. They are kept all the same.
        """
        assert report.transaction_id is not None
        transaction_id = report.transaction_id
        if await repository.by_transaction(connection, station_id, transaction_id) is None:
            busy = [
                session
                for session in await repository.open_at(connection, station_id)
                if report.evse is None or session.evse in (None, report.evse)
            ]
            if busy or await repository.is_foreign(connection, station_id, transaction_id):
                await self._readings.add_loose(connection, station_id, evse, report.readings)
                return None
        return await self.file(connection, station_id, report, now, clock_off=clock_off, held=held)

    async def change_charging(
        self,
        connection: Connection,
        session_id: int,
        charging: ChargingState | None,
        at: datetime,
        held: bool,
    ) -> Live | None:
        """The car's condition became `charging` (None: as it was), or our offer took its current away."""
        before = await repository.get_session(connection, session_id, lock=True)
        session = before if charging is None else steps.put_in_charging(before, charging)
        facts = await repository.station_facts(connection, session.station_id)
        live = (await self._store(connection, session, facts[1] if facts else DEFAULT_MAX_CURRENT_A))[1]
        await self._pause(connection, session, session.ended_at or at, held=held)
        return live

    async def close(
        self, connection: Connection, session_id: int, mark: Mark, detail: Any, now: datetime
    ) -> Session:
        """Take a session to be over that the station never ended."""
        before = await repository.get_session(connection, session_id, lock=True)
        if not before.open:
            return before
        session = steps.closed(before, now, mark, detail)
        await self._pause(connection, session, session.ended_at or now, held=False)
        await repository.update_session(connection, session)
        await self._tell(connection, before, session, now, began=False)
        return session

    async def live(self, connection: Connection, session: Session) -> Live:
        """An open session as it is kept in memory."""
        facts = await repository.station_facts(connection, session.station_id)
        max_power_w = steps.max_power_w(facts[1] if facts else DEFAULT_MAX_CURRENT_A)
        points = await self._readings.points(connection, session.id)
        newest = await self._readings.newest(connection, [session.id])
        _, meter = steps.remeasured(session, points, max_power_w)
        return live_of(session, meter, newest.get(session.id), max_power_w)

    async def _known(
        self, connection: Connection, station_id: str, report: TransactionReported, start_key: str | None
    ) -> Known:
        transaction_id = report.transaction_id
        if transaction_id is not None:
            found = await repository.by_transaction(connection, station_id, transaction_id)
            if found is not None:
                return Known(by_id=found)
        if report.step is TransactionStep.BEGAN:
            if transaction_id is not None or start_key is None:
                return Known()
            return Known(same_start=await repository.by_start_key(connection, station_id, start_key))
        foreign = transaction_id is not None and await repository.is_foreign(
            connection, station_id, transaction_id
        )
        if report.step is TransactionStep.UPDATED:
            return Known(foreign=foreign)
        return Known(
            same_stop=await repository.ended_alike(connection, station_id, report.at, report.register_wh),
            not_ended=await repository.not_ended(connection, station_id),
            foreign=foreign,
        )

    async def _insert(self, connection: Connection, new: Session) -> Session:
        while True:
            session_id = await repository.insert_session(connection, new)
            if new.transaction_id is not None:
                return replace(new, id=session_id)
            # The id that we give must not be one that this station has used before us.
            text = str(session_id)
            if await repository.by_transaction(connection, new.station_id, text) is None:
                return replace(new, id=session_id, transaction_id=text)
            await repository.delete_session(connection, session_id)

    async def _token(
        self,
        connection: Connection,
        before: Session,
        session: Session,
        report: TransactionReported,
        now: datetime,
    ) -> tuple[TokenAnswer | None, Session]:
        token = report.token
        if token is None:
            return None, session
        ends = report.step is TransactionStep.ENDED
        folded = "" if token.kind in WITHOUT_CARD else fold(token.text)
        running = () if ends else await repository.running_with(connection, folded, session.id)
        decision = await self._judge.verdict(
            connection, session.station_id, token, min(now, report.at), evse=session.evse, running=running
        )
        first = not session.verdict
        at_start = report.step is TransactionStep.BEGAN and not before.start_seen
        if first or at_start:
            if not decision.accepted:
                await self._judge.note_refusal(connection, decision, session.station_id, session.evse, now)
            return decision.answer, steps.put_in_decision(session, decision)
        if not ends and session.token_folded == folded:
            # A repeat gets the same verdict, whatever has changed since.
            return _as_before(session, decision), session
        return decision.answer, session

    async def _supersede(self, connection: Connection, session: Session) -> tuple[int, ...]:
        """Another session began on the EVSE: what ran there before is over, and its stop was lost."""
        over = []
        for other in await repository.open_at(connection, session.station_id):
            same_evse = other.evse is not None and other.evse == session.evse
            if other.id == session.id or not same_evse or other.started_at > session.started_at:
                continue
            await self.close(
                connection, other.id, Mark.NO_STOP_SEEN, f"session {session.id} began", session.started_at
            )
            over.append(other.id)
        return tuple(over)

    async def _store(
        self, connection: Connection, session: Session, max_current_a: float
    ) -> tuple[Session, Live | None]:
        """Write the session with the energy of all that is stored of it."""
        max_power_w = steps.max_power_w(max_current_a)
        points = await self._readings.points(connection, session.id)
        session, meter = steps.remeasured(session, points, max_power_w)
        await repository.update_session(connection, session)
        if not session.open:
            return session, None
        newest = await self._readings.newest(connection, [session.id])
        return session, live_of(session, meter, newest.get(session.id), max_power_w)

    async def _pause(self, connection: Connection, session: Session, at: datetime, *, held: bool) -> None:
        running = await repository.pauses_of(connection, session.id, running=True)
        charging = session.charging if session.open else ChargingState.IDLE
        over, begin = pauses.turn(running, charging=charging, held=held and session.open, at=at)
        await repository.keep_pauses(connection, self._dialect, session.id, [*over, *begin])

    async def _orphan(
        self,
        connection: Connection,
        station_id: str,
        site_id: str | None,
        report: TransactionReported,
        now: datetime,
        reason: str,
    ) -> None:
        document = intake.body(report)
        if not await repository.add_orphan(connection, station_id, report.at, now, reason, document):
            return
        body = {"station": station_id, "step": report.step.value, "reason": reason}
        await put(
            connection, Fact(topic="session.orphan", at=now, site_id=site_id, subject=station_id, body=body)
        )

    async def _orphan_answer(
        self, connection: Connection, station_id: str, report: TransactionReported, now: datetime
    ) -> TransactionAnswer:
        token = None
        if report.token is not None:
            token = (await self._judge.verdict(connection, station_id, report.token, now)).answer
        return TransactionAnswer(report.transaction_id or "0", token)

    async def _tell(
        self, connection: Connection, before: Session, session: Session, now: datetime, *, began: bool
    ) -> None:
        facts: list[Fact] = []

        def tell(topic: str, **more: Any) -> None:
            body = {
                "session": session.id,
                "station": session.station_id,
                "evse": session.evse,
                "transaction": session.transaction_id,
                "member": session.member_id,
                "token": shown(session.token_text),
                **more,
            }
            facts.append(
                Fact(topic=topic, at=now, site_id=session.site_id, subject=str(session.id), body=body)
            )

        if began:
            tell("session.started", verdict=session.verdict, reason=session.verdict_reason)
        finished = session.state is State.ENDED and before.state is not State.ENDED
        if finished or (session.state is State.CLOSED and before.open):
            stop = session.stop_reason.value if session.stop_reason else ""
            tell("session.ended", energy_wh=session.energy_wh, stop=stop, marks=sorted(session.marks))
        elif not session.open and _amended(before, session):
            tell("session.corrected", energy_wh=session.energy_wh, energy_before_wh=before.energy_wh)
        new_marks: Sequence[str] = sorted(set(session.marks) - set(before.marks))
        for mark in new_marks:
            if mark not in _SILENT_MARKS or finished:
                tell("session.marked", mark=mark, detail=session.marks[mark])
        await put(connection, *facts)


def _amended(before: Session, session: Session) -> bool:
    """Whether something came late that a bill depends on."""
    names = ("energy_wh", "started_at", "ended_at", "member_id", "register_last_at")
    return any(getattr(before, name) != getattr(session, name) for name in names)


def _as_before(session: Session, decision: Decision) -> TokenAnswer:
    return replace(decision.answer, verdict=Verdict(session.verdict))
