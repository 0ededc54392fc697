"""One lane per station: what it says is taken in turn, beside what is known of its sessions.

The memory is filled from the database when a station is first heard of, and thrown away when a
write failed or another node may have had the station meanwhile.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta

from csms.sessions import repository
from csms.sessions.filing_service import Filed, Filing
from csms.sessions.live import LiveStation
from csms.store.database import Database


class Lane:
    """Hold `lock` while using the rest; `station` is there after `Lanes.fill`.

    `held`: EVSEs that our offers leave without current. `clock_offset` mends the times of a station
    whose clock is wrong (`station_clock`). Neither is in the database.
    """

    __slots__ = ("clock_offset", "held", "lock", "station", "station_id")

    def __init__(self, station_id: str) -> None:
        self.station_id = station_id
        self.lock = asyncio.Lock()
        self.station: LiveStation | None = None
        self.held: set[int | None] = set()
        self.clock_offset: timedelta | None = None

    def take(self, filed: Filed) -> None:
        """Remember what came of a step, after its commit."""
        if self.station is None:
            return
        for session_id in filed.over:
            self.station.drop(session_id)
        if filed.live is not None:
            self.station.put(filed.live)


class Lanes:
    """The lanes of all stations of this node."""

    def __init__(self, database: Database, filing: Filing) -> None:
        self._database = database
        self._filing = filing
        self._lanes: dict[str, Lane] = {}

    def of(self, station_id: str) -> Lane:
        lane = self._lanes.get(station_id)
        if lane is None:
            lane = self._lanes[station_id] = Lane(station_id)
        return lane

    def forget(self, station_id: str) -> None:
        """The station has a new connection: what is in memory may be older than the database."""
        lane = self._lanes.get(station_id)
        if lane is not None:
            lane.station = None

    async def fill(self, lane: Lane) -> LiveStation:
        """What is known of the station's running sessions. The caller holds the lock."""
        if lane.station is None:
            station = LiveStation()
            # What was handed in before, by someone who did not stay for the answer, comes first.
            await self._database.writer.add()
            async with self._database.read() as connection:
                for session in await repository.open_at(connection, lane.station_id):
                    station.put(await self._filing.live(connection, session))
            lane.station = station
        return lane.station

    @asynccontextmanager
    async def lane(self, station_id: str) -> AsyncIterator[tuple[Lane, LiveStation]]:
        """The station's lane, held and filled; emptied when the block fails."""
        lane = self.of(station_id)
        async with lane.lock:
            station = await self.fill(lane)
            try:
                yield lane, station
            except BaseException:
                lane.station = None
                raise
