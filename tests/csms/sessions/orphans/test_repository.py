"""Rows of orphan steps, on both databases."""

import pytest

from csms.clock import ManualClock
from csms.errors import NotFound
from csms.sessions.orphans import repository
from csms.sessions.repository import add_orphan
from csms.store.database import Database
from tests.csms.yard import BAY_1, BAY_2, ELSEWHERE, SITE, build_yard


@pytest.fixture
async def yard(database: Database) -> Database:
    await build_yard(database)
    return database


async def test_orphans_are_listed_the_newest_first(yard: Database, clock: ManualClock) -> None:
    async with yard.write() as connection:
        for i, station in enumerate((BAY_1, BAY_2, BAY_1)):
            await add_orphan(connection, station, clock.now(), clock.now(), f"reason {i}", {"i": i})
        page = await repository.list_orphans(connection, after=None, limit=2)
        assert [orphan.reason for orphan in page.items] == ["reason 2", "reason 1"]
        rest = await repository.list_orphans(connection, after=page.next, limit=2)
        assert [orphan.body for orphan in rest.items] == [{"i": 0}]
        mine = await repository.list_orphans(connection, BAY_2, after=None, limit=9)
        assert [orphan.station_id for orphan in mine.items] == [BAY_2]


async def test_they_are_found_by_site_and_by_what_became_of_them(yard: Database, clock: ManualClock) -> None:
    async with yard.write() as connection:
        for i, station in enumerate((BAY_1, ELSEWHERE, BAY_2)):
            await add_orphan(connection, station, clock.now(), clock.now(), f"reason {i}", {"i": i})
        here = await repository.list_orphans(connection, site_id=SITE, after=None, limit=9)
        assert [orphan.station_id for orphan in here.items] == [BAY_2, BAY_1]
        one = here.items[1]
        assert (one.resolved_at, one.session_id) == (None, None)
        await repository.resolve(
            connection, one.id, at=clock.now(), by="Marta", session_id=7, note="bay 1, Tuesday"
        )
        settled = await repository.list_orphans(connection, resolved=True, after=None, limit=9)
        waiting = await repository.list_orphans(connection, resolved=False, after=None, limit=9)
        found = await repository.get_orphan(connection, one.id)
        with pytest.raises(NotFound):
            await repository.get_orphan(connection, 4711)
    assert settled.items == (found,)
    assert (found.resolved_by, found.session_id, found.note) == ("Marta", 7, "bay 1, Tuesday")
    assert len(waiting.items) == 2
