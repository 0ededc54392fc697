"""Rows of ownerships, on both databases."""

from datetime import timedelta

from csms.access.ownerships import repository
from csms.access.ownerships.ownership import Ownership, Thing
from csms.store.database import Database
from tests.conftest import NOON
from tests.csms.yard import BAY_1, FLAT_7, SITE


async def test_a_row_gives_back_what_was_put_in_and_those_of_a_time_are_found(yard: Database) -> None:
    made = Ownership(
        id="own-1",
        site_id=SITE,
        thing=Thing(station_id=BAY_1, evse=2),
        member_id=FLAT_7,
        from_at=NOON,
        to_at=NOON + timedelta(days=2),
        created_at=NOON,
    )
    async with yard.write() as connection:
        assert await repository.lock_site(connection, SITE)
        assert not await repository.lock_site(connection, "moon")
        await repository.add(connection, made)
        assert await repository.get(connection, "own-1") == made
        assert made in await repository.of_site(connection, SITE, None, None)
        assert made in await repository.of_site(connection, SITE, NOON + timedelta(days=1), None)
        assert made not in await repository.of_site(connection, SITE, NOON + timedelta(days=2), None)
        assert made not in await repository.of_site(connection, SITE, None, NOON)
        assert await repository.of_thing(connection, made.thing) == (made,)
