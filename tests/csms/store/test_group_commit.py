"""Many stations, one commit: everyone waits for their own, nobody loses by another's fault."""

import asyncio
from datetime import UTC, datetime

import pytest
from sqlalchemy import func, insert, select, text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.store.database import Database
from csms.store.group_commit import Change
from csms.store.tables.metering import reading
from csms.store.tables.stations import station

AT = datetime(2026, 11, 2, tzinfo=UTC)
INSERT = insert(reading)


def change(station_id: str, register_wh: int) -> Change:
    values = {"station_id": station_id, "at": AT, "context": "periodic", "register_wh": register_wh}
    return Change(INSERT, values)


async def count(database: Database) -> int:
    async with database.read() as connection:
        return (await connection.execute(select(func.count()).select_from(reading))).scalar_one()


async def test_what_was_added_is_on_disk_when_the_producer_goes_on(database: Database) -> None:
    await database.writer.add(change("a", 1))
    assert await count(database) == 1


async def test_many_producers_share_few_commits(database: Database) -> None:
    await asyncio.gather(*(database.writer.add(change(f"s{n}", n)) for n in range(200)))
    assert await count(database) == 200
    assert database.writer.pieces == 200
    assert database.writer.commits < 20


async def test_run_returns_its_result_after_the_commit(database: Database) -> None:
    async def work(connection: AsyncConnection) -> str:
        await connection.execute(INSERT, [change("a", 1).values])
        return "done"

    assert await database.writer.run(work) == "done"
    assert await count(database) == 1


async def test_a_faulty_piece_fails_alone(database: Database) -> None:
    async def faulty(connection: AsyncConnection) -> None:
        await connection.execute(INSERT, [change("lost", 1).values])
        await connection.execute(text("SELECT * FROM no_such_table"))

    results = await asyncio.gather(
        *(database.writer.add(change(f"s{n}", n)) for n in range(10)),
        database.writer.run(faulty),
        *(database.writer.add(change(f"t{n}", n)) for n in range(10)),
        return_exceptions=True,
    )
    assert [type(r) for r in results if r is not None] != []
    assert sum(isinstance(r, SQLAlchemyError) for r in results) == 1
    assert await count(database) == 20


async def test_a_row_that_breaks_a_constraint_fails_alone(database: Database) -> None:
    bad = Change(insert(station), {"id": "x", "registration": "accepted", "created_at": None})
    results = await asyncio.gather(
        database.writer.add(change("a", 1)), database.writer.add(bad), return_exceptions=True
    )
    assert results[0] is None
    assert isinstance(results[1], SQLAlchemyError)
    assert await count(database) == 1


async def test_close_finishes_what_was_handed_in(database: Database) -> None:
    pending = [asyncio.ensure_future(database.writer.add(change(f"s{n}", n))) for n in range(20)]
    await asyncio.sleep(0)
    await database.writer.close()
    await asyncio.gather(*pending)
    assert await count(database) == 20
    with pytest.raises(RuntimeError, match="closed"):
        await database.writer.add(change("late", 1))


async def test_a_cancelled_producer_does_not_stop_the_others(database: Database) -> None:
    tasks = [asyncio.ensure_future(database.writer.add(change(f"s{n}", n))) for n in range(5)]
    await asyncio.sleep(0)
    tasks[2].cancel()
    done = await asyncio.gather(*tasks, return_exceptions=True)
    assert sum(isinstance(r, asyncio.CancelledError) for r in done) == 1
    await database.writer.add(change("after", 1))
    assert await count(database) >= 5
