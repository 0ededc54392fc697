"""Rows of rights, on both databases."""

import pytest

from csms.access.rights import repository
from csms.access.rights.right import Right
from csms.errors import NotFound
from csms.store.database import Database
from tests.csms.yard import BAY_1, COURTYARD, EARLY, FLAT_12, RESIDENTS, SITE


async def test_a_right_is_read_as_it_was_written_and_found_again(yard: Database) -> None:
    right = Right(id="r1", site_id=SITE, member_id=FLAT_12, circuit_id=COURTYARD, created_at=EARLY)
    everyone = Right(id="r2", site_id=SITE, created_at=EARLY)
    async with yard.write() as connection:
        assert await repository.find_same(connection, right) is None
        await repository.insert_right(connection, right)
        await repository.insert_right(connection, everyone)
        assert await repository.get_right(connection, "r1") == right
        same = Right(id="r9", site_id=SITE, member_id=FLAT_12, circuit_id=COURTYARD, created_at=EARLY)
        assert await repository.find_same(connection, same) == right
        assert await repository.find_same(connection, Right(id="r9", site_id=SITE, created_at=EARLY)) == (
            everyone
        )
        await repository.delete_right(connection, "r1")
        with pytest.raises(NotFound):
            await repository.get_right(connection, "r1")


async def test_names_and_whereabouts_of_what_a_right_names(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.site_name(connection, SITE) == "Weavers' Yard"
        assert await repository.site_name(connection, "moon") is None
        assert await repository.whereabouts(connection, "station_id", BAY_1) == (SITE, BAY_1)
        assert await repository.whereabouts(connection, "group_id", RESIDENTS) == (SITE, "Residents")
        assert await repository.whereabouts(connection, "circuit_id", "none") is None


async def test_rights_are_listed_by_their_fields(yard: Database) -> None:
    async with yard.write() as connection:
        await repository.insert_right(
            connection, Right(id="r1", site_id=SITE, member_id=FLAT_12, station_id=BAY_1, created_at=EARLY)
        )
        await repository.insert_right(
            connection, Right(id="r2", site_id=SITE, group_id=RESIDENTS, created_at=EARLY)
        )

        async def ids(**wanted: str) -> list[str]:
            fields: dict[str, str | None] = dict.fromkeys(("site_id", "member_id", "group_id", "station_id"))
            fields.update(wanted)
            page = await repository.list_rights(
                connection,
                site_id=fields["site_id"],
                member_id=fields["member_id"],
                group_id=fields["group_id"],
                station_id=fields["station_id"],
                after=None,
                limit=10,
            )
            return [right.id for right in page.items]

        assert await ids(site_id=SITE) == ["r1", "r2"]
        assert await ids(member_id=FLAT_12) == ["r1"]
        assert await ids(group_id=RESIDENTS) == ["r2"]
        assert await ids(station_id=BAY_1) == ["r1"]
