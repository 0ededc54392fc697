"""Groups by their service, on both databases."""

import pytest
from sqlalchemy import insert, update

from csms.access.groups.group import Standing
from csms.access.groups.service import GroupsService
from csms.access.members.service import MembersService
from csms.access.rights.service import RightsService
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.store.tables.tariffs import tariff, tariff_assignment
from tests.csms.yard import FLAT_7, FLAT_12, RESIDENTS, SITE, VAN, facts


@pytest.fixture
def groups(yard: Database, clock: ManualClock) -> GroupsService:
    return GroupsService(yard, clock)


async def test_a_group_gives_its_members_a_standing(groups: GroupsService, yard: Database) -> None:
    vans = await groups.create(site_id=SITE, name="Delivery vans", priority=2, weight=1.5)
    await groups.put_in(vans.id, VAN)
    await groups.put_in(vans.id, VAN)
    await groups.put_in(vans.id, FLAT_12)
    assert (await groups.members_in(vans.id)).items == (FLAT_12, VAN)
    assert {g.name for g in await groups.groups_of(FLAT_12)} == {"Residents", "Delivery vans"}
    assert await groups.standings(SITE) == {VAN: Standing(2, 1.5), FLAT_12: Standing(2, 1.5)}
    await groups.take_out(vans.id, FLAT_12)
    await groups.update(RESIDENTS, priority=1)
    assert await groups.standings(SITE) == {VAN: Standing(2, 1.5), FLAT_12: Standing(1, 1.0)}
    assert [(fact.body["change"], fact.body.get("member")) for fact in await facts(yard, "group.")] == [
        ("created", None),
        ("member put in", "van a"),
        ("member put in", "flat 12"),
        ("member taken out", "flat 12"),
        ("changed", None),
    ]


async def test_what_does_not_fit_is_refused(
    groups: GroupsService, yard: Database, clock: ManualClock
) -> None:
    stranger = await MembersService(yard, clock).create(site_id="mill", name="Miller")
    with pytest.raises(InvalidInput, match="another site"):
        await groups.put_in(RESIDENTS, stranger.id)
    with pytest.raises(NotFound):
        await groups.put_in(RESIDENTS, "nobody")
    with pytest.raises(NotFound):
        await groups.take_out(RESIDENTS, FLAT_7)
    with pytest.raises(InvalidInput, match="site_id"):
        await groups.create(site_id="moon", name="Residents")
    with pytest.raises(Conflict):
        await groups.create(site_id=SITE, name="Residents")


async def test_a_group_with_rights_is_not_deleted(
    groups: GroupsService, yard: Database, clock: ManualClock
) -> None:
    rights = RightsService(yard, clock)
    right = await rights.give(site_id=SITE, group_id=RESIDENTS)
    with pytest.raises(Conflict, match="1 rights"):
        await groups.delete(RESIDENTS)
    await rights.take(right.id)
    await groups.delete(RESIDENTS)
    assert (await groups.list(site_id=SITE)).items == ()
    assert await groups.groups_of(FLAT_12) == ()
    with pytest.raises(NotFound):
        await groups.get(RESIDENTS)


async def test_a_group_with_a_tariff_is_not_deleted(
    groups: GroupsService, yard: Database, clock: ManualClock
) -> None:
    """Its members would be priced by another tariff, and nobody would notice."""
    async with yard.write() as connection:
        await connection.execute(
            insert(tariff).values(
                id="t", site_id=SITE, name="Residents'", document={"json": "{}"}, created_at=clock.now()
            )
        )
        await connection.execute(
            insert(tariff_assignment).values(
                id="a", tariff_id="t", site_id=SITE, group_id=RESIDENTS, guests=False, created_at=clock.now()
            )
        )
    with pytest.raises(Conflict, match="group Residents has 1 tariffs assigned; end these assignments first"):
        await groups.delete(RESIDENTS)
    async with yard.write() as connection:
        await connection.execute(update(tariff_assignment).values(valid_to=clock.now()))
    await groups.delete(RESIDENTS)
    assert (await groups.list(site_id=SITE)).items == ()
