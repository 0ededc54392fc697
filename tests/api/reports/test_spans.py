"""Times laid over each other count once, on both databases."""

from datetime import UTC, datetime

from sqlalchemy import literal, select

from api.deps import Central
from api.reports.spans import epoch, larger, quiet_s, smaller
from csms.store.tables.sessions import session
from tests.api.reports.sessions import charged
from tests.csms.yard import BAY_1, FLAT_12, build_yard

START = datetime(2026, 11, 3, 10, tzinfo=UTC)


async def test_pauses_are_clipped_and_overlaps_count_once(central: Central) -> None:
    await build_yard(central.database)
    pauses = [(0.5, 2.0, True), (1.0, 1.5, False), (1.5, 3.0, False), (5.0, None, False)]
    await charged(central.database, BAY_1, FLAT_12, START, 8, 1, pauses=pauses)
    at = int(START.timestamp())

    async def quiet(low_h: float, high_h: float) -> float:
        begin, finish = literal(at + int(low_h * 3600)), literal(at + int(high_h * 3600))
        found = select(session.c.station_id.label("station"))
        async with central.database.read() as connection:
            row = (await connection.execute(quiet_s(found, ("station",), begin, finish))).one()
        assert row.station == BAY_1
        return float(row.quiet_s) / 3600

    assert await quiet(0, 8) == 2.5 + 3
    assert await quiet(1.25, 2.5) == 1.25
    assert await quiet(3, 5) == 0
    assert await quiet(4, 6) == 1


async def test_instants_and_extremes(central: Central) -> None:
    await build_yard(central.database)
    await charged(central.database, BAY_1, FLAT_12, START, 1, 1)
    one, two = literal(1), literal(2)
    query = select(
        epoch(session.c.started_at), larger(one, two), larger(two, one), smaller(one, two), smaller(two, one)
    )
    async with central.database.read() as connection:
        assert tuple((await connection.execute(query)).one()) == (int(START.timestamp()), 2, 2, 1, 1)
