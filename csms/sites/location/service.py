"""Where sites are, as the rest of the program holds it."""

from csms.clock import Clock
from csms.errors import NotFound
from csms.sites.location import repository
from csms.sites.location.location import SiteLocation, check_location
from csms.sites.service import SitesService
from csms.store.database import Database


class LocationsService:
    def __init__(self, database: Database, clock: Clock, sites: SitesService) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites

    async def get(self, site_id: str) -> SiteLocation:
        """Raises NotFound, of the site or of its location."""
        await self._sites.get_site(site_id)
        async with self._database.read() as connection:
            found = await repository.find_location(connection, site_id)
        if found is None:
            raise NotFound("location of site", site_id)
        return found

    async def put(self, site_id: str, location: SiteLocation) -> SiteLocation:
        """Raises NotFound, and ManyInvalid with every fault."""
        await self._sites.get_site(site_id)
        check_location(location)
        async with self._database.write() as connection:
            await repository.put_location(
                connection, self._database.dialect, site_id, location, self._clock.now()
            )
        return location
