"""The SQL of self-tests."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.alarms.selftests.result import SelfTest, TestSource
from csms.store.paging import Page, fetch_page
from csms.store.tables.alarms import self_test as tests
from csms.store.tables.stations import station as stations


async def add(connection: AsyncConnection, test: SelfTest) -> int:
    values = {
        "station_id": test.station_id,
        "evse": test.evse,
        "at": test.at,
        "passed": test.passed,
        "source": test.source.value,
        "detail": test.detail,
        "written_by": test.written_by,
    }
    return int((await connection.execute(insert(tests).values(values).returning(tests.c.id))).scalar_one())


async def list_tests(
    connection: AsyncConnection, station_id: str, *, after: str | None, limit: int
) -> Page[SelfTest]:
    """The latest written first."""
    query = select(tests).where(tests.c.station_id == station_id)
    return await fetch_page(connection, query, tests.c.id, _test, after=after, limit=limit, descending=True)


async def latest_of_all(
    connection: AsyncConnection,
) -> tuple[tuple[str, str | None, datetime, SelfTest | None], ...]:
    """Of every station that has a place: (id, site, since when it is kept, its latest test)."""
    newest = (
        select(func.max(tests.c.id).label("id"), tests.c.station_id).group_by(tests.c.station_id).subquery()
    )
    query = (
        select(stations.c.id.label("station"), stations.c.site_id, stations.c.created_at, tests)
        .join(newest, newest.c.station_id == stations.c.id, isouter=True)
        .join(tests, tests.c.id == newest.c.id, isouter=True)
        .where(stations.c.site_id.is_not(None))
        .order_by(stations.c.id)
    )
    return tuple(
        (row.station, row.site_id, row.created_at, None if row.id is None else _test(row))
        for row in await connection.execute(query)
    )


async def kept_since(connection: AsyncConnection, station_id: str) -> datetime | None:
    """When the station was created; None when there is none."""
    query = select(stations.c.created_at).where(stations.c.id == station_id)
    found: datetime | None = (await connection.execute(query)).scalar_one_or_none()
    return found


def _test(row: Row[Any]) -> SelfTest:
    return SelfTest(
        id=row.id,
        station_id=row.station_id,
        evse=row.evse,
        at=row.at,
        passed=row.passed,
        source=TestSource(row.source),
        detail=row.detail,
        written_by=row.written_by,
    )
