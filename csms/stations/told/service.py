"""What stations told, as people read it."""

from csms.stations import repository as stations
from csms.stations.told import repository
from csms.stations.told.kinds import Told
from csms.store.database import Database
from csms.store.paging import Page


class ToldService:
    """Reads what `handlers` keeps. Raises NotFound for an unknown station."""

    def __init__(self, database: Database) -> None:
        self._database = database

    async def list_told(
        self,
        station_id: str,
        kind: str | None = None,
        *,
        request_id: int | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Told]:
        """The latest first; of one kind or of all, of one request or of any."""
        async with self._database.read() as connection:
            await stations.get_station(connection, station_id)
            return await repository.list_told(
                connection, station_id, kind=kind, request_id=request_id, after=after, limit=limit
            )
