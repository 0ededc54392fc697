"""What the services' tests do not reach of the SQL."""

from csms.alarms import repository
from csms.store.database import Database
from tests.csms.yard import BAY_1, SITE


async def test_places_have_names(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.place_of(connection, SITE, BAY_1) == (
            "Weavers' Yard",
            "Europe/Brussels",
            BAY_1,
        )
        assert await repository.place_of(connection, None, "gone") == ("", "UTC", "gone")
        assert await repository.site_of_station(connection, "gone") is None


async def test_nothing_is_due_at_first(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.standing(connection) == ()
        assert await repository.lost_share(connection, SITE) == (0, 3)
