"""What a person makes of steps that fitted nowhere."""

from dataclasses import replace

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.sessions.filing_service import Filed, Filing
from csms.sessions.lanes_service import Lanes
from csms.sessions.orphans import repository
from csms.sessions.orphans.told import step_of
from csms.sessions.repository import get_session
from csms.sessions.session import OrphanStep
from csms.stations.questions import TransactionStep
from csms.store.database import Connection, Database
from csms.store.paging import Page


class OrphansService:
    """A step is resolved once, and for good."""

    def __init__(self, database: Database, clock: Clock, filing: Filing, lanes: Lanes) -> None:
        self._database = database
        self._clock = clock
        self._filing = filing
        self._lanes = lanes

    async def list(
        self,
        *,
        station_id: str | None = None,
        site_id: str | None = None,
        resolved: bool | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[OrphanStep]:
        """The newest first."""
        async with self._database.read() as connection:
            return await repository.list_orphans(
                connection, station_id, site_id, resolved, after=after, limit=limit
            )

    async def get(self, orphan_id: int) -> OrphanStep:
        """Raises NotFound."""
        async with self._database.read() as connection:
            return await repository.get_orphan(connection, orphan_id)

    async def assign(self, orphan_id: int, session_id: int, by: str, note: str = "") -> OrphanStep:
        """Put the step into a session of its station, as if it had come with that session's id.

        Raises NotFound; InvalidInput (`session_id`) for a session of another station; Conflict when
        the step is resolved, is a start, or cannot be read back.
        """
        orphan = await self.get(orphan_id)
        report = step_of(orphan.body)
        if report is None:
            raise Conflict(f"step {orphan_id} cannot be read back; dismiss it with a note")
        if report.step is TransactionStep.BEGAN:
            raise Conflict(f"step {orphan_id} is a start, which makes a session of its own; dismiss it")
        now = self._clock.now()

        async def work(connection: Connection) -> Filed:
            await self._open(connection, orphan_id)
            session = await get_session(connection, session_id, lock=True)
            if session.station_id != orphan.station_id:
                raise InvalidInput(
                    "session_id", f"is a session of {session.station_id}; the step is of {orphan.station_id}"
                )
            told = replace(
                report, transaction_id=session.transaction_id or str(session.id), evse=session.evse
            )
            filed = await self._filing.file(connection, orphan.station_id, told, now)
            await repository.resolve(connection, orphan_id, at=now, by=by, session_id=session_id, note=note)
            return filed

        async with self._lanes.lane(orphan.station_id) as (lane, _):
            lane.take(await self._database.writer.run(work))
        return await self.get(orphan_id)

    async def dismiss(self, orphan_id: int, by: str, note: str) -> OrphanStep:
        """It is nothing that is billed; `note` says why. Raises NotFound, Conflict, InvalidInput (`note`)."""
        if not note.strip():
            raise InvalidInput("note", "say why the step is dismissed")

        async def work(connection: Connection) -> None:
            await self._open(connection, orphan_id)
            await repository.resolve(
                connection, orphan_id, at=self._clock.now(), by=by, session_id=None, note=note
            )

        await self._database.writer.run(work)
        return await self.get(orphan_id)

    async def _open(self, connection: Connection, orphan_id: int) -> None:
        found = await repository.get_orphan(connection, orphan_id, lock=True)
        if found.resolved_at is not None:
            raise Conflict(f"step {orphan_id} was resolved by {found.resolved_by} already")
