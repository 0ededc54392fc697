"""The journal of commands, as the gateway writes it and people read it."""

from dataclasses import replace
from datetime import datetime, timedelta

from csms.clock import Clock
from csms.errors import NotFound
from csms.ids import new_id
from csms.stations.commands import Command, CommandResult, CommandStatus, Trigger
from csms.stations.encoding import plain
from csms.stations.journal import repository
from csms.stations.journal.lifecycle import CommandEvent, CommandRecord, follow, is_news
from csms.stations.presence import clean
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page

LONGEST_DETAIL = 1000
REFUSAL_HOLDS = timedelta(days=30)
"""How long a station that knows no triggers is not asked for one; its firmware may learn."""


class CommandJournal:
    """Keeps every command with what came of it. Raises NotFound, and Conflict for an impossible turn."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def asked(self, station_id: str, command: Command, *, asked_by: str = "") -> str:
        """Write down `command` before it is sent; returns its id. `asked_by` "" is Phaseyard itself."""
        now = self._clock.now()
        record = CommandRecord(
            id=_id(now),
            station_id=station_id,
            kind=type(command).__name__,
            body=plain(command),
            asked_at=now,
            asked_by=asked_by,
        )

        async def work(connection: Connection) -> None:
            if not await repository.insert_command(connection, record):
                raise NotFound("station", station_id)

        await self._database.writer.run(work)
        return record.id

    async def answered(self, command_id: str, result: CommandResult) -> CommandRecord:
        """The station answered, in time or after we had given up."""
        return await self._end(command_id, CommandEvent.ANSWER, result)

    async def timed_out(self, command_id: str, detail: str = "") -> CommandRecord:
        """No answer in time, or the connection ended before it: the effect is unknown."""
        return await self._end(command_id, CommandEvent.SILENCE, detail=detail)

    async def offline(self, command_id: str, detail: str = "") -> CommandRecord:
        """The station was not connected: nothing was sent."""
        return await self._end(command_id, CommandEvent.NO_CONNECTION, detail=detail)

    async def give_up_open(self) -> int:
        """After a restart: what was asked and never ended has timed out. Returns how many."""
        async with self._database.read() as connection:
            unended = await repository.open_commands(connection)
        for record in unended:
            await self.timed_out(record.id, "Phaseyard was restarted before the answer")
        return len(unended)

    async def get_command(self, command_id: str) -> CommandRecord:
        async with self._database.read() as connection:
            record = await repository.find_command(connection, command_id)
        if record is None:
            raise NotFound("command", command_id)
        return record

    async def list_commands(
        self, station_id: str, *, after: str | None = None, limit: int = 50
    ) -> Page[CommandRecord]:
        """What was asked of the station, the latest first."""
        async with self._database.read() as connection:
            return await repository.list_commands(connection, station_id, after=after, limit=limit)

    async def refuses_triggers(self, station_id: str) -> bool:
        """Whether the station answered lately that it knows no such message."""
        async with self._database.read() as connection:
            at = await repository.last_with_status(
                connection, station_id, Trigger.__name__, CommandStatus.UNSUPPORTED
            )
        return at is not None and self._clock.now() - at < REFUSAL_HOLDS

    async def _end(
        self, command_id: str, event: CommandEvent, result: CommandResult | None = None, detail: str = ""
    ) -> CommandRecord:
        now = self._clock.now()

        async def work(connection: Connection) -> CommandRecord:
            record = await repository.find_command(connection, command_id, lock=True)
            if record is None:
                raise NotFound("command", command_id)
            ended = replace(
                record,
                state=follow(record.state, event),
                status=result.status if result else None,
                detail=clean(result.detail if result else detail, LONGEST_DETAIL),
                data=plain(result.data) if result else None,
                answered_at=now,
            )
            await repository.end_command(connection, ended)
            if is_news(ended):
                await put(connection, await _fact(connection, ended, now))
            return ended

        return await self._database.writer.run(work)


def _id(now: datetime) -> str:
    # In the order of time, so that the journal can be paged by it.
    return new_id(f"cmd_{int(now.timestamp() * 1000):013d}")


async def _fact(connection: Connection, record: CommandRecord, at: datetime) -> Fact:
    site_id, label = await repository.station_label(connection, record.station_id)
    body = {
        "station": label,
        "command": record.kind,
        "command_id": record.id,
        "state": record.state.value,
        "status": record.status and record.status.value,
        "detail": record.detail,
        "asked_by": record.asked_by,
    }
    return Fact(topic="command.done", at=at, site_id=site_id, subject=record.station_id, body=body)
