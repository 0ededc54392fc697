"""Rows of groups, on both databases."""

import pytest

from csms.access.groups import repository
from csms.access.groups.group import Group
from csms.errors import Conflict, NotFound
from csms.store.database import Database
from tests.csms.yard import EARLY, FLAT_7, FLAT_12, RESIDENTS, SITE

VANS = Group(id="vans", site_id=SITE, name="Vans", priority=3, weight=1.25, created_at=EARLY)


async def test_a_group_is_read_as_it_was_written(yard: Database) -> None:
    async with yard.write() as connection:
        await repository.insert_group(connection, VANS)
        assert await repository.get_group(connection, "vans", lock=True) == VANS
        assert await repository.site_exists(connection, SITE)
        page = await repository.list_groups(connection, site_id=SITE, after=None, limit=10)
        assert [group.id for group in page.items] == [RESIDENTS, "vans"]
        await repository.delete_group(connection, "vans")
        with pytest.raises(NotFound):
            await repository.get_group(connection, "vans")


async def test_two_groups_of_a_site_cannot_have_one_name(yard: Database) -> None:
    with pytest.raises(Conflict):
        async with yard.write() as connection:
            await repository.insert_group(
                connection, Group(id="other", site_id=SITE, name="Residents", created_at=EARLY)
            )
    async with yard.write() as connection:
        await repository.insert_group(connection, VANS)
    with pytest.raises(Conflict):
        async with yard.write() as connection:
            await repository.update_group(
                connection, Group(id="vans", site_id=SITE, name="Residents", created_at=EARLY)
            )


async def test_who_is_in_a_group(yard: Database) -> None:
    async with yard.write() as connection:
        assert await repository.find_member(connection, FLAT_7) == (SITE, "flat 7")
        assert await repository.find_member(connection, "nobody") is None
        assert await repository.put_in(connection, yard.dialect, RESIDENTS, FLAT_7)
        assert not await repository.put_in(connection, yard.dialect, RESIDENTS, FLAT_7)
        page = await repository.members_in(connection, RESIDENTS, after=None, limit=10)
        assert page.items == (FLAT_12, FLAT_7)
        assert [group.id for group in await repository.groups_of(connection, FLAT_7)] == [RESIDENTS]
        assert sorted(await repository.groups_by_member(connection, SITE)) == [FLAT_12, FLAT_7]
        assert await repository.take_out(connection, RESIDENTS, FLAT_7)
        assert not await repository.take_out(connection, RESIDENTS, FLAT_7)
        assert await repository.rights_of(connection, RESIDENTS) == 0
