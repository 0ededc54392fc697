"""Sessions, as the rest of the program holds them."""

from datetime import datetime
from functools import partial

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.metering.series import CurvePoint, curve
from csms.metering.service import ReadingsService
from csms.metering.signed.proof import Billed
from csms.metering.stored import StoredReading
from csms.sessions import repository, steps
from csms.sessions.filing_service import DEFAULT_MAX_CURRENT_A, Filing
from csms.sessions.lanes_service import Lanes
from csms.sessions.orphans.repository import list_orphans
from csms.sessions.pauses import Pause
from csms.sessions.queries import repository as queries
from csms.sessions.session import Cost, LastCharge, Mark, OrphanStep, Session, SessionFilter, State
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class SessionsService:
    """Reads sessions, and what people and the sharing of power do to them."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        readings: ReadingsService,
        filing: Filing,
        lanes: Lanes,
    ) -> None:
        self._database = database
        self._clock = clock
        self._readings = readings
        self._filing = filing
        self._lanes = lanes

    async def get(self, session_id: int) -> Session:
        """Raises NotFound."""
        async with self._database.read() as connection:
            return await repository.get_session(connection, session_id)

    async def by_transaction(self, station_id: str, transaction_id: str) -> Session:
        """Raises NotFound."""
        async with self._database.read() as connection:
            found = await repository.by_transaction(connection, station_id, transaction_id)
        if found is None:
            raise NotFound("transaction", f"{transaction_id} of {station_id}")
        return found

    async def list(
        self, wanted: SessionFilter | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[Session]:
        """Sessions that fit `wanted`, the newest first."""
        async with self._database.read() as connection:
            return await queries.list_sessions(
                connection, wanted or SessionFilter(), after=_cursor(after), limit=limit
            )

    async def open_sessions(self, site_id: str | None = None) -> tuple[Session, ...]:
        """All that run, of one site or of all."""
        async with self._database.read() as connection:
            return await queries.open_sessions(connection, site_id)

    async def last_charges(
        self, site_id: str, since: datetime, *, by_token: bool = False
    ) -> tuple[LastCharge, ...]:
        """Who charged since then: one entry for each member, or for each token; the latest first.

        What nobody's token charged has no member.
        """
        async with self._database.read() as connection:
            return await queries.last_charges(connection, site_id, since, by_token)

    async def samples(
        self, session_id: int, *, after: str | None = None, limit: int = 100
    ) -> Page[StoredReading]:
        """The readings of a session in order of arrival. Raises NotFound."""
        await self.get(session_id)
        return await self._readings.samples(session_id, after=_cursor(after), limit=limit)

    async def curve(self, session_id: int) -> tuple[CurvePoint, ...]:
        """How the session's energy grew, by all its registers; ends at its `energy_wh`."""
        async with self._database.read() as connection:
            session = await repository.get_session(connection, session_id)
            facts = await repository.station_facts(connection, session.station_id)
            points = await self._readings.points(connection, session_id)
        return curve(
            steps.points_of(session, points),
            max_power_w=steps.max_power_w(facts[1] if facts else DEFAULT_MAX_CURRENT_A),
            started_at=session.started_at,
            ended_at=session.ended_at if session.state is State.ENDED else None,
        )

    async def pauses(self, session_id: int) -> tuple[Pause, ...]:
        """The pauses of a session; see `csms.sessions.pauses.idle` for what they mean."""
        async with self._database.read() as connection:
            await repository.get_session(connection, session_id)
            return await repository.pauses_of(connection, session_id, running=False)

    async def billed(self, session_id: int) -> Billed | None:
        """What is billed of a session, for those who prove it; None when there is no such session."""
        try:
            session = await self.get(session_id)
        except NotFound:
            return None
        return Billed(
            started_at=session.started_at,
            ended_at=None if session.open else session.ended_at,
            start_wh=session.register_start_wh if session.start_seen else None,
            stop_wh=session.register_stop_wh,
            energy_wh=session.energy_wh,
        )

    async def orphans(
        self, station_id: str | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[OrphanStep]:
        """Steps that fitted nowhere, the newest first. `csms.sessions.orphans` resolves them."""
        async with self._database.read() as connection:
            return await list_orphans(connection, station_id, after=_cursor(after), limit=limit)

    async def close(self, session_id: int, by: str) -> Session:
        """Take a session to be over whose stop will not come; `by` says who did it.

        Raises NotFound, and Conflict when it is over already. A stop that comes after all counts.
        """
        session = await self.get(session_id)
        if not session.open:
            raise Conflict(f"session {session_id} is {session.state} already")
        async with self._lanes.lane(session.station_id) as (_, station):
            work = partial(
                self._filing.close,
                session_id=session_id,
                mark=Mark.CLOSED_BY_HAND,
                detail=by,
                now=self._clock.now(),
            )
            closed = await self._database.writer.run(work)
            station.drop(session_id)
        return closed

    async def paused_by_us(self, station_id: str, evse: int, at: datetime) -> bool:
        """Our offer leaves the EVSE without current from `at` on. False: no session runs there."""
        return await self._hold(station_id, evse, at, held=True)

    async def resumed(self, station_id: str, evse: int, at: datetime) -> bool:
        """Our offer lets the EVSE charge again. False: no session runs there."""
        return await self._hold(station_id, evse, at, held=False)

    async def set_cost(self, session_id: int, cost: Cost, *facts: Fact) -> bool:
        """What the session costs, and who is to hear of it. Raises NotFound.

        False: it cost just that before, and nobody is told again.
        """
        values = {
            "tariff_id": cost.tariff_id,
            "currency": cost.currency,
            "cost_excl_minor": cost.excl_minor,
            "cost_incl_minor": cost.incl_minor,
            "cost_lines": cost.lines,
        }

        async def work(connection: Connection) -> bool:
            before = await repository.get_session(connection, session_id, lock=True)
            if all(getattr(before, name) == value for name, value in values.items()):
                return False
            await repository.set_cost(connection, session_id, values)
            await put(connection, *facts)
            return True

        return await self._database.writer.run(work)

    def forget(self, station_id: str) -> None:
        """The station has a new connection; another node may have had it: look at the database again."""
        self._lanes.forget(station_id)

    async def _hold(self, station_id: str, evse: int, at: datetime, *, held: bool) -> bool:
        async with self._lanes.lane(station_id) as (lane, station):
            (lane.held.add if held else lane.held.discard)(evse)
            live = station.at_evse(evse)
            if live is None:
                return False
            work = partial(
                self._filing.change_charging,
                session_id=live.session_id,
                charging=None,
                at=max(at, live.started_at),
                held=held,
            )
            changed = await self._database.writer.run(work)
            if changed is not None:
                station.put(changed)
            return True


def _cursor(after: str | None) -> str | None:
    if after is not None and not (after.isascii() and after.isdigit() and len(after) <= 18):
        raise InvalidInput("after", "give the cursor of an earlier page as it was")
    return after
