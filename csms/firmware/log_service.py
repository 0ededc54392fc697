"""Logs and diagnostics: asked for, taken in by HTTP PUT under an address of their own, kept for people."""

from collections.abc import AsyncIterable, Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from csms.clock import Clock
from csms.errors import NotFound, StationError
from csms.firmware import repository
from csms.firmware.file_service import Files, new_token
from csms.firmware.repository import StationLog
from csms.stations.asking import Commands
from csms.stations.presence import clean
from csms.stations.service import StationsService
from csms.stations.words.firmware import GetLog, LogKind, LogState
from csms.store.database import Connection, Database
from csms.store.fact import Fact
from csms.store.paging import Page

FAILED = frozenset(
    {LogState.UPLOAD_FAILED, LogState.BAD_MESSAGE, LogState.NOT_SUPPORTED, LogState.PERMISSION_DENIED}
)
WAITS = ("asked", "uploading")


class StationLogs:
    """`address` makes the URL that a station sends to, from a token. Raises NotFound, StationError."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        stations: StationsService,
        commands: Commands,
        files: Files,
        address: Callable[[str], str],
    ) -> None:
        self._database = database
        self._clock = clock
        self._stations = stations
        self._commands = commands
        self._files = files
        self._address = address

    async def ask(
        self,
        station_id: str,
        kind: LogKind = LogKind.DIAGNOSTICS,
        *,
        from_at: datetime | None = None,
        to_at: datetime | None = None,
        by: str = "",
    ) -> StationLog:
        """Ask the station to send a log; the file comes later, or does not."""
        await self._stations.get(station_id)
        log = StationLog(
            station_id=station_id,
            kind=kind.value,
            token=new_token(),
            state="asked",
            asked_at=self._clock.now(),
            asked_by=by,
        )

        async def write(connection: Connection) -> int:
            return await repository.insert_log(connection, log)

        log = replace(log, id=await self._database.writer.run(write))
        command = GetLog(
            request_id=log.id, location=self._address(log.token), kind=kind, from_at=from_at, to_at=to_at
        )
        try:
            result = await self._commands.ask(station_id, command, asked_by=by)
        except StationError as error:
            await self._keep(replace(log, state="refused", detail=clean(str(error))))
            raise
        if not result.accepted:
            log = replace(log, state="refused", detail=clean(result.detail or result.status.value))
            await self._keep(log)
        return log

    async def take(self, token: str, parts: AsyncIterable[bytes], file_name: str = "") -> StationLog:
        """A file that a station sends. NotFound for an address that was not given out, or is used up."""
        async with self._database.read() as connection:
            log = await repository.log_by_token(connection, token)
        if log is None or log.state not in WAITS:
            raise NotFound("log", "of this address")
        kept = await self._files.take(str(log.id), parts)
        log = replace(
            log,
            state="received",
            detail="",
            file_name=clean(file_name),
            size_bytes=kept.size_bytes,
            sha256=kept.sha256,
            received_at=self._clock.now(),
        )
        await self._keep(log)
        return log

    async def get(self, log_id: int) -> StationLog:
        async with self._database.read() as connection:
            return await repository.get_log(connection, log_id)

    async def list(self, station_id: str, *, after: str | None = None, limit: int = 50) -> Page[StationLog]:
        """The latest first."""
        await self._stations.get(station_id)
        async with self._database.read() as connection:
            return await repository.list_logs(connection, station_id, after=after, limit=limit)

    async def file(self, log_id: int) -> Path:
        """Where its file is. NotFound while it has not come."""
        log = await self.get(log_id)
        if log.state != "received":
            raise NotFound("file of log", log_id)
        return self._files.path(str(log.id))

    async def fact(self, _number: int, fact: Fact) -> None:
        """Follower of `station.log`: how far the sending is."""
        told = fact.body.get("told") or {}
        state, number = str(told.get("state") or ""), told.get("request_id")
        async with self._database.read() as connection:
            page = await repository.list_logs(connection, fact.subject, after=None, limit=10)
        waiting = [log for log in page.items if log.state in WAITS and number in (None, log.id)]
        if not waiting:
            return
        if state in FAILED:
            await self._keep(replace(waiting[0], state="failed", detail=state))
        elif state == LogState.UPLOADING:
            await self._keep(replace(waiting[0], state="uploading"))

    async def _keep(self, log: StationLog) -> None:
        async def work(connection: Connection) -> None:
            await repository.update_log(connection, log)

        await self._database.writer.run(work)
