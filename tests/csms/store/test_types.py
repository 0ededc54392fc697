"""Instants and documents come back as they went in, on both databases."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import insert, select
from sqlalchemy.exc import StatementError

from csms.store.database import Database
from csms.store.tables.system import outbox


async def test_an_instant_comes_back_aware_and_equal(database: Database) -> None:
    oslo = datetime(2026, 10, 25, 2, 30, 15, 123456, tzinfo=timezone(timedelta(hours=1)))
    async with database.write() as connection:
        await connection.execute(insert(outbox).values(topic="t", body={"å": [1, None, "x"]}, at=oslo))
    async with database.read() as connection:
        row = (await connection.execute(select(outbox))).one()
    assert row.at == oslo
    assert row.at.utcoffset() == timedelta(0)
    assert row.body == {"å": [1, None, "x"]}


async def test_a_naive_instant_is_refused(database: Database) -> None:
    with pytest.raises(StatementError, match="time zone"):
        async with database.write() as connection:
            await connection.execute(insert(outbox).values(topic="t", body={}, at=datetime(2026, 1, 1)))  # noqa: DTZ001


async def test_instants_compare_in_sql(database: Database) -> None:
    base = datetime(2026, 3, 29, 1, tzinfo=UTC)
    async with database.write() as connection:
        for hours in range(4):
            values = {"topic": str(hours), "body": {}, "at": base + timedelta(hours=hours)}
            await connection.execute(insert(outbox).values(values))
    async with database.read() as connection:
        query = select(outbox.c.topic).where(outbox.c.at >= base + timedelta(hours=2)).order_by(outbox.c.at)
        assert list((await connection.execute(query)).scalars()) == ["2", "3"]
