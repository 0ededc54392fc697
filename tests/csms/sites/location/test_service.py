import pytest

from csms.clock import ManualClock
from csms.errors import ManyInvalid, NotFound
from csms.sites.location.location import SiteLocation
from csms.sites.location.service import LocationsService
from csms.sites.service import SitesService
from csms.store.database import Database
from tests.csms.yard import SITE, build_yard


async def test_where_a_site_is(database: Database, clock: ManualClock) -> None:
    await build_yard(database)
    locations = LocationsService(database, clock, SitesService(database, clock))
    with pytest.raises(NotFound, match="location of site"):
        await locations.get(SITE)
    mill = SiteLocation(
        country_code="BE",
        party_id="WEY",
        address="Weversgang 1",
        city="Gent",
        country="BEL",
        latitude="51.04530",
        longitude="3.72500",
    )
    assert await locations.put(SITE, mill) == await locations.get(SITE) == mill
    with pytest.raises(NotFound, match="site"):
        await locations.put("moon", mill)
    with pytest.raises(ManyInvalid):
        await locations.put(SITE, SiteLocation(**dict.fromkeys(mill.__slots__, "")))
