"""Where the security of a station stands, for whoever changes it."""

from datetime import datetime

from csms.stations.security import repository
from csms.stations.security.repository import SecurityState
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put

__all__ = ["SecurityRecords", "SecurityState"]


class SecurityRecords:
    """Reads and writes the one row of a station; whether there is such a station is for the caller."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def state(self, station_id: str) -> SecurityState:
        """What is kept; nothing for a station that was never looked at."""
        async with self._database.read() as connection:
            return await repository.state_of(connection, station_id)

    async def keep(self, station_id: str, *facts: Fact, changed_at: datetime, **values: object) -> None:
        """Write columns of its row, with the facts that tell of it; what is not named stays."""
        dialect = self._database.dialect

        async def work(connection: Connection) -> None:
            await repository.keep(connection, dialect, station_id, changed_at=changed_at, **values)
            await put(connection, *facts)

        await self._database.writer.run(work)
