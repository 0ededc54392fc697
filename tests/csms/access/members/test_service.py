"""Members by their service, on both databases."""

import pytest

from csms.access.members.member import MemberKind
from csms.access.members.service import MembersService
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from tests.csms.yard import FLAT_12, SITE, VAN, facts


@pytest.fixture
def members(yard: Database, clock: ManualClock) -> MembersService:
    return MembersService(yard, clock)


async def test_a_member_is_created_changed_and_told_of(members: MembersService, yard: Database) -> None:
    member = await members.create(site_id=SITE, name="Flat 31", email="flat31@example.org")
    assert member.id.startswith("mem_")
    assert await members.get(member.id) == member
    changed = await members.update(member.id, active=False, kind=MemberKind.PERSON)
    assert await members.get(member.id) == changed
    assert not changed.active
    await members.update(member.id, active=False)
    assert [fact.body for fact in await facts(yard, "member.changed")] == [
        {"change": "created", "member": "Flat 31", "kind": "flat", "active": True},
        {"change": "changed", "member": "Flat 31", "kind": "person", "active": False},
    ]


async def test_pages_of_members_follow_each_other(members: MembersService) -> None:
    first = await members.list(site_id=SITE, limit=2)
    second = await members.list(site_id=SITE, limit=2, after=first.next)
    assert [m.id for m in (*first.items, *second.items)] == ["flat-12", "flat-7", "van-a"]
    assert second.next is None


async def test_a_member_needs_a_site_and_a_name_of_its_own(members: MembersService) -> None:
    with pytest.raises(InvalidInput, match="site_id"):
        await members.create(site_id="moon", name="Flat 1")
    with pytest.raises(Conflict):
        await members.create(site_id=SITE, name="flat 12")
    with pytest.raises(NotFound):
        await members.update("nobody", active=False)


async def test_a_member_with_tokens_is_made_inactive_instead_of_deleted(members: MembersService) -> None:
    with pytest.raises(Conflict, match="1 tokens"):
        await members.delete(FLAT_12)
    await members.delete(VAN)
    with pytest.raises(NotFound):
        await members.get(VAN)
