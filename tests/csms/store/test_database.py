"""One unit of work commits when it ends well, and only then."""

import pytest
from sqlalchemy import func, insert, select

from csms.store.database import Database
from csms.store.tables.metering import circuit_reading
from tests.conftest import NOON

INSERT = insert(circuit_reading).values(circuit_id="c", at=NOON, counts="base")


async def count(database: Database) -> int:
    async with database.read() as connection:
        return (await connection.execute(select(func.count()).select_from(circuit_reading))).scalar_one()


async def test_a_block_that_ends_well_is_committed(database: Database) -> None:
    async with database.write() as connection:
        await connection.execute(INSERT)
    assert await count(database) == 1


async def test_a_block_that_fails_is_undone(database: Database) -> None:
    async def fails() -> None:
        async with database.write() as connection:
            await connection.execute(INSERT)
            raise RuntimeError("no")

    with pytest.raises(RuntimeError, match="no"):
        await fails()
    assert await count(database) == 0


async def test_an_open_database_can_be_closed_and_opened_again(database_url: str) -> None:
    first = Database(database_url)
    await first.open()
    async with first.write() as connection:
        await connection.execute(INSERT)
    await first.close()
    second = Database(database_url)
    await second.open()
    assert await count(second) == 1
    await second.close()
