"""Lists of sessions, on both databases."""

from datetime import timedelta

import pytest
from sqlalchemy import insert

from csms.clock import ManualClock
from csms.sessions.queries import repository as queries
from csms.sessions.session import SessionFilter
from csms.store.database import Database
from csms.store.tables.sessions import session as sessions
from tests.csms.yard import BAY_1, BAY_2, SITE, build_yard


@pytest.fixture
async def yard(database: Database) -> Database:
    await build_yard(database)
    return database


async def test_sessions_are_filtered_paged_and_summed(yard: Database, clock: ManualClock) -> None:
    rows = [
        (BAY_1, "flat-12", "a", "ended", 0, 100),
        (BAY_1, "flat-12", "b", "charging", 1, 200),
        (BAY_2, None, None, "closed", 2, 50),
    ]
    async with yard.write() as connection:
        for station, member, token, state, hours, energy_wh in rows:
            await connection.execute(
                insert(sessions).values(
                    station_id=station,
                    site_id=SITE,
                    member_id=member,
                    token_id=token,
                    state=state,
                    started_at=clock.now() + timedelta(hours=hours),
                    arrived_at=clock.now(),
                    energy_wh=energy_wh,
                    marks={},
                )
            )

        async def energies(wanted: SessionFilter) -> list[int]:
            page = await queries.list_sessions(connection, wanted, after=None, limit=10)
            return [session.energy_wh for session in page.items]

        assert await energies(SessionFilter()) == [50, 200, 100]
        assert await energies(SessionFilter(open=True)) == [200]
        assert await energies(SessionFilter(open=False, station_id=BAY_1)) == [100]
        assert await energies(SessionFilter(from_at=clock.now() + timedelta(hours=1))) == [50, 200]
        assert await energies(SessionFilter(to_at=clock.now() + timedelta(hours=1))) == [100]
        assert [s.energy_wh for s in await queries.open_sessions(connection, SITE)] == [200]
        assert await queries.open_sessions(connection, "mill") == ()
        members = await queries.last_charges(connection, SITE, clock.now(), by_token=False)
        assert [(c.member_id, c.token_id, c.sessions, c.energy_wh) for c in members] == [
            (None, None, 1, 50),
            ("flat-12", None, 2, 300),
        ]
        tokens = await queries.last_charges(connection, SITE, clock.now(), by_token=True)
        assert [(c.token_id, c.energy_wh) for c in tokens] == [(None, 50), ("b", 200), ("a", 100)]
