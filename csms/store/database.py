"""The database as the rest of the program holds it."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from sqlalchemy.ext.asyncio import AsyncConnection

from csms.store.dialects import open_engines
from csms.store.group_commit import GroupCommit
from csms.store.migrate import bring_up_to_date
from csms.store.outbox import TOLD
from csms.tasks import Tasks

Connection = AsyncConnection
"""An open transaction, for services and handlers that pass one on: SQL they do not write."""


class Database:
    """Opened once per process. `dialect` is for `csms.store.dialects` only.

    Inside `write()` never wait for `writer`: on SQLite both need the one connection.
    """

    def __init__(self, url: str) -> None:
        self._write_engine, self._read_engine = open_engines(url)
        self._tasks = Tasks()
        self.dialect = self._write_engine.dialect.name
        self._on_facts: list[Callable[[], None]] = []
        self.writer = GroupCommit(self._write_engine, self._tasks, self._told)

    def on_facts(self, call: Callable[[], None]) -> None:
        """Call `call` after every commit of this process that put facts into the outbox; be quick."""
        self._on_facts.append(call)

    def _told(self) -> None:
        for call in self._on_facts:
            call()

    async def open(self) -> None:
        """Bring the tables up to date and start the writer."""
        async with self._write_engine.connect() as connection:
            await connection.run_sync(bring_up_to_date)
        self.writer.start()

    async def close(self) -> None:
        """Finish what was handed in, then let go of the database."""
        await self.writer.close()
        await self._tasks.close()
        await self._write_engine.dispose()
        if self._read_engine is not self._write_engine:
            await self._read_engine.dispose()

    @asynccontextmanager
    async def read(self) -> AsyncIterator[AsyncConnection]:
        """A view of the last commit."""
        async with self._read_engine.connect() as connection:
            yield connection

    @asynccontextmanager
    async def write(self) -> AsyncIterator[AsyncConnection]:
        """One unit of work: committed when the block ends well, else undone."""
        async with self._write_engine.begin() as connection:
            connection.info.pop(TOLD, None)
            yield connection
            told = connection.info.pop(TOLD, False)
        if told:
            self._told()
