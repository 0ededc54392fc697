"""Facts are written with the change, and only commits with facts wake those who hand them on."""

from sqlalchemy import insert, select

from csms.clock import ManualClock
from csms.store.database import Connection, Database
from csms.store.group_commit import Change
from csms.store.outbox import Fact, change, put
from csms.store.tables.metering import circuit_reading
from csms.store.tables.system import outbox

INSERT = insert(circuit_reading)


async def topics(database: Database) -> list[str]:
    async with database.read() as connection:
        return list((await connection.execute(select(outbox.c.topic).order_by(outbox.c.id))).scalars())


async def test_only_commits_with_facts_call(database: Database, clock: ManualClock) -> None:
    calls: list[int] = []
    database.on_facts(lambda: calls.append(1))
    values = {"circuit_id": "c", "at": clock.now(), "counts": "base"}
    await database.writer.add(Change(INSERT, values))
    async with database.write() as connection:
        await connection.execute(INSERT, [values])
    assert calls == []

    async def work(connection: Connection) -> None:
        await put(connection, Fact(topic="by.work", at=clock.now()))

    await database.writer.run(work)
    await database.writer.add(change(Fact(topic="by.change", at=clock.now())))
    async with database.write() as connection:
        await put(connection, Fact(topic="by.hand", at=clock.now(), body={"bay": "Court 1"}))
    assert len(calls) == 3
    assert await topics(database) == ["by.work", "by.change", "by.hand"]


async def test_facts_that_were_undone_call_nobody(database: Database, clock: ManualClock) -> None:
    calls: list[int] = []
    database.on_facts(lambda: calls.append(1))
    try:
        async with database.write() as connection:
            await put(connection, Fact(topic="undone", at=clock.now()))
            raise RuntimeError("no")
    except RuntimeError:
        pass
    async with database.write() as connection:
        await connection.execute(INSERT, [{"circuit_id": "c", "at": clock.now(), "counts": "base"}])
    assert calls == []
    assert await topics(database) == []
