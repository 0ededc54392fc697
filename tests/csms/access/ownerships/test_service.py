"""Ownerships by their service, on both databases; a token's change of hands writes its history."""

from datetime import timedelta
from typing import Any

import pytest

from csms.access.ownerships.ownership import Thing
from csms.access.ownerships.service import OwnershipsService
from csms.access.tokens.service import TokensService
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from tests.csms.yard import BAY_1, FLAT_7, FLAT_12, SITE, facts


@pytest.fixture
def ownerships(yard: Database, clock: ManualClock) -> OwnershipsService:
    return OwnershipsService(yard, clock)


async def test_a_space_is_given_ended_listed_and_told_of(
    ownerships: OwnershipsService, yard: Database, clock: ManualClock
) -> None:
    now = clock.now()
    made = await ownerships.create(site_id=SITE, member_id=FLAT_7, station_id=BAY_1, evse=1)
    assert await ownerships.get(made.id) == made
    with pytest.raises(InvalidInput, match="from_at"):
        await ownerships.create(site_id=SITE, member_id=FLAT_12, station_id=BAY_1, from_at=now)
    ended = await ownerships.end(made.id, now)
    assert ended.to_at == now
    after = await ownerships.create(site_id=SITE, member_id=FLAT_12, station_id=BAY_1, from_at=now)
    listed = await ownerships.list(site_id=SITE, station_id=BAY_1)
    assert set(listed.items) == {ended, after}
    assert [o.id for o in (await ownerships.list(member_id=FLAT_12, station_id=BAY_1)).items] == [after.id]
    async with yard.read() as connection:
        of_site = await ownerships.of_site(connection, SITE, now, now + timedelta(days=1))
    assert [each.member_id for each in of_site if each.thing.station_id] == [FLAT_12]
    with pytest.raises(InvalidInput, match="from_at"):
        await ownerships.end(made.id, now + timedelta(days=1))
    assert [fact.body["change"] for fact in await facts(yard, "ownership.changed")] == [
        "created",
        "ended",
        "created",
    ]
    await ownerships.delete(after.id)
    with pytest.raises(NotFound):
        await ownerships.get(after.id)


async def test_what_is_not_there_is_named(ownerships: OwnershipsService) -> None:
    for field, wrong in (
        ("site_id", {"site_id": "moon", "station_id": BAY_1}),
        ("member_id", {"member_id": "nobody", "station_id": BAY_1}),
        ("station_id", {"station_id": "nowhere"}),
        ("token_id", {"token_id": "no-card"}),
    ):
        values: dict[str, Any] = {"site_id": SITE, "member_id": FLAT_7} | wrong
        with pytest.raises(InvalidInput) as refused:
            await ownerships.create(**values)
        assert refused.value.field == field
    await ownerships.create(site_id=SITE, member_id=FLAT_7, station_id=BAY_1, id="own-bay")
    with pytest.raises(Conflict):
        await ownerships.create(site_id=SITE, member_id=FLAT_7, station_id=BAY_1, id="own-bay")


async def test_a_token_that_changes_hands_has_both_owners_in_its_history(
    ownerships: OwnershipsService, yard: Database, clock: ManualClock
) -> None:
    tokens = TokensService(yard, clock)
    token = await tokens.create(text="AB01", member_id=FLAT_7)
    clock.advance(3600)
    await tokens.update(token.id, label="spare")
    await tokens.update(token.id, member_id=FLAT_12)
    first, second = sorted(
        (await ownerships.list(token_id=token.id)).items, key=lambda each: each.to_at is None
    )
    assert (first.member_id, first.from_at, first.to_at) == (FLAT_7, None, clock.now())
    assert (second.member_id, second.from_at, second.to_at) == (FLAT_12, clock.now(), None)
    assert second.thing == Thing(token_id=token.id)


async def test_a_card_handed_over_today_is_also_the_new_owners_to_charge_with(
    ownerships: OwnershipsService, yard: Database, clock: ManualClock
) -> None:
    tokens = TokensService(yard, clock)
    token = await tokens.create(text="AB01", member_id=FLAT_7)
    (held,) = (await ownerships.list(token_id=token.id)).items
    await ownerships.end(held.id, clock.now())
    await ownerships.create(site_id=SITE, member_id=FLAT_12, token_id=token.id, from_at=clock.now())
    assert (await tokens.get(token.id)).member_id == FLAT_12
