"""Puts unreadable frames aside, and shows them."""

from datetime import datetime

from csms.stations.presence import clean
from csms.stations.quarantine import repository
from csms.stations.quarantine.repository import QuarantinedFrame
from csms.store.database import Connection, Database
from csms.store.paging import Page

LARGEST_FRAME = 262_144
MOST_FRAMES = 1000
LONGEST_STATION = 48


class QuarantineService:
    """`most_frames`: how many of each station are kept."""

    def __init__(self, database: Database, most_frames: int = MOST_FRAMES) -> None:
        self._database = database
        self._most_frames = most_frames

    async def keep(self, station_id: str, frame: bytes, reason: str, at: datetime) -> None:
        """Keep `frame` that arrived `at`; returns when it is on disk. `reason` is cut at 255 characters."""

        async def work(connection: Connection) -> None:
            await repository.insert_frame(
                connection,
                station_id[:LONGEST_STATION],
                frame=frame[:LARGEST_FRAME],
                reason=clean(reason),
                at=at,
            )
            await repository.drop_oldest(connection, station_id[:LONGEST_STATION], self._most_frames)

        await self._database.writer.run(work)

    async def list_frames(
        self, station_id: str | None = None, *, after: str | None = None, limit: int = 50
    ) -> Page[QuarantinedFrame]:
        """The latest first."""
        async with self._database.read() as connection:
            return await repository.list_frames(connection, station_id, after=after, limit=limit)

    async def get(self, station_id: str, frame_id: int) -> QuarantinedFrame:
        """Raises NotFound when the station has no such frame."""
        async with self._database.read() as connection:
            return await repository.get_frame(connection, station_id, frame_id)

    async def replayed(self, frame_id: int, outcome: str, at: datetime) -> None:
        """Keep what came of reading the frame once more; `outcome` is cut at 255 characters."""

        async def work(connection: Connection) -> None:
            await repository.set_outcome(connection, frame_id, clean(outcome), at)

        await self._database.writer.run(work)

    async def delete(self, station_id: str, frame_id: int) -> None:
        """Raises NotFound when the station has no such frame."""

        async def work(connection: Connection) -> None:
            await repository.delete_frame(connection, station_id, frame_id)

        await self._database.writer.run(work)
