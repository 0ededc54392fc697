"""Caps from outside come back as they were kept, on both databases."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import insert

from csms.errors import NotFound
from csms.power.signals import repository
from csms.power.signals.repository import KeptSignal
from csms.store.database import Database
from csms.store.tables.sites import circuit, site
from tests.conftest import NOON

HOUR = timedelta(hours=1)
SIGNAL = KeptSignal(
    id=0,
    circuit_id="main",
    site_id="yard",
    cap_w=4_200,
    from_at=NOON,
    until_at=NOON + HOUR,
    reason="grid operator: too much load in the street",
    created_at=NOON - HOUR,
    created_by="energy manager",
)


@pytest.fixture
async def yard(database: Database) -> Database:
    facts = {"time_zone": "UTC", "currency": "EUR", "system": "TN-400", "active": True, "created_at": NOON}
    limits = dict.fromkeys(("limit_l1_ma", "limit_l2_ma", "limit_l3_ma"), 32_000)
    async with database.write() as connection:
        await connection.execute(insert(site), [{"id": id, "name": id, **facts} for id in ("yard", "other")])
        rows = [("main", "yard"), ("board", "yard"), ("far", "other")]
        await connection.execute(
            insert(circuit), [{"id": id, "site_id": at, "name": id, **limits} for id, at in rows]
        )
    return database


async def test_what_is_kept_comes_back_until_it_is_over_or_withdrawn(yard: Database) -> None:
    later = replace(SIGNAL, circuit_id="board", from_at=NOON + 2 * HOUR, until_at=NOON + 3 * HOUR)
    async with yard.write() as connection:
        first, second, _ = [
            await repository.add(connection, each)
            for each in (SIGNAL, later, replace(SIGNAL, circuit_id="far", site_id="other"))
        ]
        assert await repository.get(connection, "main", first) == replace(SIGNAL, id=first)
        found = await repository.coming(connection, "yard", NOON)
        assert found == [replace(SIGNAL, id=first), replace(later, id=second)]
        assert await repository.coming(connection, "yard", NOON + HOUR) == [replace(later, id=second)]
        await repository.withdraw(connection, second, NOON)
        assert await repository.coming(connection, "yard", NOON + HOUR) == []
        assert (await repository.get(connection, "board", second)).withdrawn_at == NOON


async def test_the_list_of_a_circuit_goes_back_from_the_newest(yard: Database) -> None:
    async with yard.write() as connection:
        ids = [await repository.add(connection, replace(SIGNAL, cap_w=cap_w)) for cap_w in (1, 2, 3)]
        page = await repository.listed(connection, "main", after=None, limit=2)
        assert [each.cap_w for each in page.items] == [3, 2]
        rest = await repository.listed(connection, "main", after=page.next, limit=2)
        assert [each.id for each in rest.items] == ids[:1]


async def test_a_cap_of_another_circuit_is_not_found(yard: Database) -> None:
    async with yard.write() as connection:
        id = await repository.add(connection, SIGNAL)
        with pytest.raises(NotFound):
            await repository.get(connection, "board", id)


def test_in_force_between_its_instants_unless_withdrawn() -> None:
    assert [SIGNAL.in_force(NOON + HOUR * k / 2) for k in (-1, 0, 1, 2)] == [False, True, True, False]
    assert not replace(SIGNAL, withdrawn_at=NOON).in_force(NOON)
