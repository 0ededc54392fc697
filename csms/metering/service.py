"""Readings, as the rest of the program holds them."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from csms.metering import repository
from csms.metering.series import Point
from csms.metering.signed import repository as signed
from csms.metering.stored import StoredReading
from csms.stations.model import Reading
from csms.store.database import Connection, Database
from csms.store.group_commit import Change
from csms.store.paging import Page


class ReadingsService:
    """Keeps readings. What takes a connection works in the transaction of its caller."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def changes(
        self, station_id: str, evse: int | None, session_id: int | None, readings: Iterable[Reading]
    ) -> list[Change]:
        """New readings, and the signed records that came with them, for the group commit."""
        found: list[Change] = []
        for reading in readings:
            found.append(repository.change(station_id, evse, session_id, reading))
            if reading.signed:
                found += signed.changes(self._database.dialect, station_id, evse, session_id, reading)
        return found

    async def add_new(
        self,
        connection: Connection,
        station_id: str,
        evse: int | None,
        session_id: int,
        readings: Iterable[Reading],
    ) -> int:
        """Keep those readings that the session does not have yet; how many they were."""
        readings = tuple(readings)
        rows = [repository.values(station_id, evse, session_id, reading) for reading in readings]
        fresh = await repository.not_yet_stored(connection, session_id, rows)
        await repository.add(connection, fresh)
        await self._add_signed(connection, station_id, evse, session_id, readings)
        return len(fresh)

    async def add_loose(
        self, connection: Connection, station_id: str, evse: int | None, readings: Iterable[Reading]
    ) -> None:
        """Keep readings that belong to no session."""
        readings = tuple(readings)
        rows = [repository.values(station_id, evse, None, reading) for reading in readings]
        await repository.add(connection, rows)
        await self._add_signed(connection, station_id, evse, None, readings)

    async def _add_signed(
        self,
        connection: Connection,
        station_id: str,
        evse: int | None,
        session_id: int | None,
        readings: Iterable[Reading],
    ) -> None:
        for reading in readings:
            if reading.signed:
                dialect = self._database.dialect
                await signed.add(connection, dialect, station_id, evse, session_id, reading)

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
