"""Rows of members, on both databases."""

import pytest

from csms.access.members import repository
from csms.access.members.member import Member, MemberKind
from csms.errors import Conflict, NotFound
from csms.store.database import Database
from tests.csms.yard import EARLY, FLAT_7, FLAT_12, SITE, VAN

VISITOR = Member(
    id="visitor",
    site_id=SITE,
    kind=MemberKind.PERSON,
    name="A visitor",
    email="visitor@example.org",
    active=False,
    created_at=EARLY,
)


async def test_a_member_is_read_as_it_was_written(yard: Database) -> None:
    async with yard.write() as connection:
        await repository.insert_member(connection, VISITOR)
        assert await repository.get_member(connection, "visitor", lock=True) == VISITOR
        assert await repository.site_exists(connection, SITE)
        assert not await repository.site_exists(connection, "moon")
        assert await repository.holdings(connection, "visitor") == {}
        assert await repository.holdings(connection, FLAT_12) == {"tokens": 1}
        await repository.delete_member(connection, "visitor")
        with pytest.raises(NotFound):
            await repository.get_member(connection, "visitor")


async def test_two_members_of_a_site_cannot_have_one_name(yard: Database) -> None:
    async with yard.read() as connection:
        flat = await repository.get_member(connection, FLAT_12)
        other = await repository.get_member(connection, FLAT_7)
    with pytest.raises(Conflict):
        async with yard.write() as connection:
            await repository.insert_member(connection, flat)
    with pytest.raises(Conflict):
        async with yard.write() as connection:
            await repository.update_member(
                connection,
                Member(
                    id=other.id, site_id=SITE, kind=other.kind, name=flat.name, created_at=other.created_at
                ),
            )


async def test_members_are_listed_by_what_is_asked(yard: Database) -> None:
    async with yard.read() as connection:

        async def ids(kind: MemberKind | None = None, active: bool | None = None) -> list[str]:
            page = await repository.list_members(
                connection, site_id=SITE, kind=kind, active=active, after=None, limit=10
            )
            return [member.id for member in page.items]

        assert await ids() == [FLAT_12, FLAT_7, VAN]
        assert await ids(kind=MemberKind.VEHICLE) == [VAN]
        assert await ids(active=False) == []
