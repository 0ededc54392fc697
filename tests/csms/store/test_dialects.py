"""Which database, and how SQLite is made to behave."""

import asyncio
from datetime import timedelta

import pytest
from sqlalchemy import func, insert, select, text, update

from csms.errors import InvalidInput
from csms.store.database import Database
from csms.store.dialects import hold_still, open_engines, upsert, whole_seconds
from csms.store.tables.metering import circuit_reading
from csms.store.tables.stations import station_variable
from tests.conftest import NOON


def test_an_unknown_url_is_refused() -> None:
    with pytest.raises(InvalidInput, match="database_url"):
        open_engines("mysql://somewhere")


async def test_read_then_write_by_many_loses_nothing(database: Database) -> None:
    # The plain lazy transaction of SQLite loses such updates or fails (measured; see `dialects`).
    values = {"circuit_id": "c", "at": NOON, "counts": "base", "current_l1_ma": 0}
    async with database.write() as connection:
        await connection.execute(insert(circuit_reading).values(values))

    async def add_one() -> None:
        async with database.write() as connection:
            query = select(circuit_reading.c.current_l1_ma).with_for_update()
            old = (await connection.execute(query)).scalar_one()
            await asyncio.sleep(0)
            await connection.execute(update(circuit_reading).values(current_l1_ma=old + 1))

    await asyncio.gather(*(add_one() for _ in range(40)))
    async with database.read() as connection:
        assert (await connection.execute(select(circuit_reading.c.current_l1_ma))).scalar_one() == 40


async def test_upsert_on_both(database: Database) -> None:
    async with database.write() as connection:
        await connection.execute(
            text(
                "INSERT INTO station (id, registration, created_at) "
                "VALUES ('B1', 'accepted', '2026-11-02 00:00:00')"
            )
        )
        for value in ("1", "2"):
            statement = upsert(database.dialect, station_variable).values(
                station_id="B1", path="HeartbeatInterval", value=value, readonly=False, seen_at=NOON
            )
            await connection.execute(
                statement.on_conflict_do_update(
                    index_elements=["station_id", "path"], set_={"value": statement.excluded.value}
                )
            )
    async with database.read() as connection:
        assert (await connection.execute(select(station_variable.c.value))).scalars().all() == ["2"]


async def test_who_holds_still_sees_one_state(database: Database) -> None:
    count = select(func.count()).select_from(circuit_reading)
    async with database.read() as connection:
        await hold_still(connection)
        before = (await connection.execute(count)).scalar_one()
        async with database.write() as other:
            values = {"circuit_id": "c", "at": NOON, "counts": "base", "current_l1_ma": 0}
            await other.execute(insert(circuit_reading).values(values))
        assert (await connection.execute(count)).scalar_one() == before
    async with database.read() as connection:
        assert (await connection.execute(count)).scalar_one() == before + 1


async def test_whole_seconds_are_rounded_down(database: Database) -> None:
    at = NOON + timedelta(milliseconds=1999)
    async with database.write() as connection:
        values = {"circuit_id": "c", "at": at, "counts": "base", "current_l1_ma": 0}
        await connection.execute(insert(circuit_reading).values(values))
        found = await connection.execute(select(whole_seconds(circuit_reading.c.at)))
        assert found.scalar_one() == int(NOON.timestamp()) + 1
