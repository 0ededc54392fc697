"""Rows of tariffs and assignments, on both databases."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import Conflict, NotFound
from csms.store.database import Database
from csms.tariffs import repository
from csms.tariffs.assignment import Assignment
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.stored import StoredTariff
from tests.csms.yard import BAY_1, BAY_2, ELSEWHERE, RESIDENTS, SITE

NOVEMBER = datetime(2026, 11, 1, tzinfo=UTC)
DOCUMENT = {
    "currency": "EUR",
    "elements": [{"price_components": [{"type": "ENERGY", "price": Decimal("0.250"), "step_size": 1}]}],
}
TARIFF = StoredTariff(
    id="yard-2026",
    site_id=SITE,
    name="Yard 2026",
    document=DOCUMENT,
    tariff=parse_tariff(DOCUMENT),
    created_at=NOVEMBER,
)
ASSIGNED = Assignment(
    id="a1",
    tariff_id=TARIFF.id,
    site_id=SITE,
    station_id=BAY_1,
    group_id=RESIDENTS,
    valid_from=NOVEMBER,
    valid_until=NOVEMBER + timedelta(days=30),
)


async def test_a_tariff_comes_back_as_it_was_put(yard: Database) -> None:
    async with yard.write() as connection:
        await repository.insert_tariff(connection, TARIFF)
        with pytest.raises(Conflict):
            await repository.insert_tariff(connection, TARIFF)
    async with yard.read() as connection:
        found = await repository.get_tariff(connection, TARIFF.id)
        assert found == TARIFF
        assert "0.250" in repr(found.document)
        for site_id, count in ((SITE, 1), (None, 1), ("mill", 0)):
            page = await repository.list_tariffs(connection, site_id=site_id, after=None, limit=5)
            assert len(page.items) == count
        with pytest.raises(NotFound):
            await repository.get_tariff(connection, "none")


async def test_assignments(yard: Database) -> None:
    async with yard.write() as connection:
        await repository.insert_tariff(connection, TARIFF)
        everyone = Assignment(id="a2", tariff_id=TARIFF.id, site_id=SITE)
        guests = replace(everyone, id="a3", guests=True)
        for each in (ASSIGNED, everyone, guests):
            await repository.insert_assignment(connection, each, NOVEMBER)
        assert await repository.get_assignment(connection, "a1") == ASSIGNED
        assert await repository.find_same(connection, replace(guests, id="other")) == guests
        assert await repository.find_same(connection, replace(ASSIGNED, valid_until=None)) is None
        assert await repository.uses(connection, TARIFF.id) == {"assignments": 3}
        at_bay_1, tariffs = await repository.candidates(connection, SITE, BAY_1)
        assert [each.id for each in at_bay_1] == ["a1", "a2", "a3"]
        assert tariffs == {TARIFF.id: TARIFF}
        at_bay_2, _ = await repository.candidates(connection, SITE, BAY_2)
        assert [each.id for each in at_bay_2] == ["a2", "a3"]
        assert await repository.candidates(connection, "mill", ELSEWHERE) == ((), {})
        await repository.end_assignment(connection, "a2", NOVEMBER)
        assert (await repository.get_assignment(connection, "a2")).valid_until == NOVEMBER
        await repository.delete_assignment(connection, "a3")
        page = await repository.list_assignments(
            connection, site_id=SITE, tariff_id=TARIFF.id, after=None, limit=5
        )
        assert [each.id for each in page.items] == ["a1", "a2"]
        with pytest.raises(NotFound):
            await repository.get_assignment(connection, "a3")


async def test_whereabouts(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.currency_of(connection, SITE) == "EUR"
        assert await repository.currency_of(connection, "moon") is None
        assert await repository.site_of(connection, "station_id", ELSEWHERE) == "mill"
        assert await repository.site_of(connection, "group_id", RESIDENTS) == SITE
        assert await repository.site_of(connection, "group_id", "none") is None
