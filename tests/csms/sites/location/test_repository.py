from csms.clock import ManualClock
from csms.sites.location import repository
from csms.sites.location.location import SiteLocation
from csms.store.database import Database
from tests.csms.yard import SITE, build_yard

MILL = SiteLocation(
    country_code="BE",
    party_id="WEY",
    address="Weversgang 1",
    city="Gent",
    postal_code="9000",
    country="BEL",
    latitude="51.04530",
    longitude="3.72500",
    connector_format="CABLE",
)


async def test_a_location_is_read_as_it_was_written_last(database: Database, clock: ManualClock) -> None:
    await build_yard(database)
    async with database.write() as connection:
        assert await repository.find_location(connection, SITE) is None
        for city in ("Brugge", "Gent"):
            moved = SiteLocation(**{**{n: getattr(MILL, n) for n in MILL.__slots__}, "city": city})
            await repository.put_location(connection, database.dialect, SITE, moved, clock.now())
        assert await repository.find_location(connection, SITE) == MILL
