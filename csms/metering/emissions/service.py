"""Factors of emission, as the rest of the program holds them."""

from collections.abc import Sequence
from datetime import datetime

from csms.errors import Conflict
from csms.metering.emissions import repository
from csms.metering.emissions.factor import EmissionFactor
from csms.sites.service import SitesService
from csms.store.database import Database


class EmissionsService:
    def __init__(self, database: Database, sites: SitesService) -> None:
        self._database = database
        self._sites = sites

    async def put(self, site_id: str, new: Sequence[EmissionFactor]) -> None:
        """Factors one after the other take the place of all that lay in their time.

        Raises NotFound, and Conflict when one that is there reaches over an end of theirs.
        """
        await self._sites.get_site(site_id)
        start, end = new[0].from_at, new[-1].to_at
        async with self._database.write() as connection:
            await repository.remove(connection, site_id, start, end)
            if over := await repository.between(connection, site_id, start, end, 1):
                raise Conflict(
                    f"the factor from {over[0].from_at.isoformat()} to {over[0].to_at.isoformat()} reaches "
                    "over an end of these; remove it first, or send whole intervals"
                )
            await repository.add(connection, site_id, new)

    async def between(
        self, site_id: str, start: datetime, end: datetime, most: int | None = None
    ) -> tuple[EmissionFactor, ...]:
        """The factors of which something lies in that time, in order. Raises NotFound."""
        await self._sites.get_site(site_id)
        async with self._database.read() as connection:
            return await repository.between(connection, site_id, start, end, most)

    async def remove(self, site_id: str, start: datetime, end: datetime) -> int:
        """Those that lie within; how many. Raises NotFound."""
        await self._sites.get_site(site_id)
        async with self._database.write() as connection:
            return await repository.remove(connection, site_id, start, end)
