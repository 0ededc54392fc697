"""A walk by cursor sees every row once, also while rows come in."""

from sqlalchemy import insert, select

from csms.store.database import Database
from csms.store.paging import Page, every, fetch_page
from csms.store.tables.system import outbox
from tests.conftest import NOON


async def add(database: Database, *topics: str) -> None:
    async with database.write() as connection:
        await connection.execute(insert(outbox), [{"topic": t, "body": {}, "at": NOON} for t in topics])


async def walk(database: Database, *, descending: bool = False) -> list[str]:
    seen: list[str] = []
    after: str | None = None
    while True:
        async with database.read() as connection:
            page = await fetch_page(
                connection,
                select(outbox),
                outbox.c.id,
                lambda row: str(row.topic),
                after=after,
                limit=2,
                descending=descending,
            )
        seen += page.items
        if page.next is None:
            return seen
        after = page.next
        if len(seen) == 2 and not descending:
            await add(database, "new")


async def test_walk(database: Database) -> None:
    await add(database, *"abcde")
    assert await walk(database) == [*"abcde", "new"]
    assert await walk(database, descending=True) == ["new", *"edcba"]


async def test_every_walks_to_the_end(database: Database) -> None:
    await add(database, *(str(number) for number in range(1203)))

    async def list_page(*, after: str | None, limit: int) -> Page[str]:
        async with database.read() as connection:
            return await fetch_page(
                connection, select(outbox), outbox.c.id, lambda row: str(row.topic), after=after, limit=limit
            )

    assert await every(list_page) == tuple(str(number) for number in range(1203))
