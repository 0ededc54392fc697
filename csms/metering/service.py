"""Readings, as the rest of the program holds them."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from csms.metering import repository
from csms.metering.series import Point
from csms.metering.stored import StoredReading
from csms.stations.model import Reading
from csms.store.database import Connection, Database
from csms.store.group_commit import Change
from csms.store.paging import Page


class ReadingsService:
    """Keeps readings. What takes a connection works in the transaction of its caller."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def change(self, station_id: str, evse: int | None, session_id: int | None, reading: Reading) -> Change:
        """One new reading, for the group commit."""
        return repository.change(station_id, evse, session_id, reading)

    async def add_new(
        self,
        connection: Connection,
        station_id: str,
        evse: int | None,
        session_id: int,
        readings: Iterable[Reading],
    ) -> int:
        """Keep those readings that the session does not have yet; how many they were."""
        rows = [repository.values(station_id, evse, session_id, reading) for reading in readings]
        fresh = await repository.not_yet_stored(connection, session_id, rows)
        await repository.add(connection, fresh)
        return len(fresh)

    async def add_loose(
        self, connection: Connection, station_id: str, evse: int | None, readings: Iterable[Reading]
    ) -> None:
        """Keep readings that belong to no session."""
        rows = [repository.values(station_id, evse, None, reading) for reading in readings]
        await repository.add(connection, rows)

    async def points(self, connection: Connection, session_id: int) -> tuple[Point, ...]:
        """All register values of a session, in no order."""
        return await repository.points(connection, session_id)

    async def newest(self, connection: Connection, session_ids: Sequence[int]) -> dict[int, datetime]:
        """The time of the latest reading of each session that has one."""
        return await repository.newest(connection, session_ids)

    async def samples(
        self, session_id: int, *, after: str | None = None, limit: int = 100
    ) -> Page[StoredReading]:
        """A session's readings in order of arrival."""
        async with self._database.read() as connection:
            return await repository.samples(connection, session_id, after=after, limit=limit)
