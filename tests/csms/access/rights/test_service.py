"""Rights by their service, on both databases."""

from typing import Any

import pytest

from csms.access.rights.service import RightsService
from csms.clock import ManualClock
from csms.errors import InvalidInput, NotFound
from csms.store.database import Database
from tests.csms.yard import BAY_1, COURTYARD, ELSEWHERE, FLAT_12, RESIDENTS, SITE, facts


@pytest.fixture
def rights(yard: Database, clock: ManualClock) -> RightsService:
    return RightsService(yard, clock)


async def test_a_right_is_given_once_and_taken(rights: RightsService, yard: Database) -> None:
    right = await rights.give(site_id=SITE, group_id=RESIDENTS, circuit_id=COURTYARD)
    assert await rights.give(site_id=SITE, group_id=RESIDENTS, circuit_id=COURTYARD) == right
    assert await rights.get(right.id) == right
    await rights.give(site_id=SITE, everyone=True, station_id=BAY_1)
    assert len((await rights.list(site_id=SITE)).items) == 2
    await rights.take(right.id)
    with pytest.raises(NotFound):
        await rights.get(right.id)
    assert [fact.body for fact in await facts(yard, "right.")] == [
        {"change": "given", "who": "Residents", "where": "courtyard"},
        {"change": "given", "who": "everyone", "where": BAY_1},
        {"change": "taken", "who": "Residents", "where": "courtyard"},
    ]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({}, "member_id"),
        ({"member_id": FLAT_12, "group_id": RESIDENTS}, "member_id"),
        ({"member_id": FLAT_12, "everyone": True}, "member_id"),
        ({"member_id": "nobody"}, "member_id"),
        ({"group_id": "nobody"}, "group_id"),
        ({"member_id": FLAT_12, "station_id": ELSEWHERE}, "station_id"),
        ({"member_id": FLAT_12, "circuit_id": "none"}, "circuit_id"),
        ({"member_id": FLAT_12, "circuit_id": COURTYARD, "station_id": BAY_1}, "station_id"),
        ({"member_id": FLAT_12, "site_id": "moon"}, "site_id"),
        ({"member_id": FLAT_12, "site_id": "mill"}, "member_id"),
    ],
)
async def test_what_does_not_fit_is_named(rights: RightsService, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        await rights.give(**{"site_id": SITE, **wrong})
    assert refused.value.field == field
