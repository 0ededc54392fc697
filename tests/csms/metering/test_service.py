"""Readings by their service, on both databases."""

from datetime import timedelta

from csms.clock import ManualClock
from csms.metering.series import Point
from csms.metering.service import ReadingsService
from csms.stations.model import Reading
from csms.store.database import Database


async def test_readings_come_once_and_in_pages(database: Database, clock: ManualClock) -> None:
    readings = ReadingsService(database)
    told = [Reading(at=clock.now() + timedelta(minutes=i), register_wh=100 * i) for i in range(5)]
    await database.writer.add(*readings.changes("YARD-01", 1, 7, told[:1]))
    async with database.write() as connection:
        assert await readings.add_new(connection, "YARD-01", 1, 7, told) == 4
        assert await readings.add_new(connection, "YARD-01", 1, 7, told) == 0
        assert set(await readings.points(connection, 7)) == {Point(r.at, r.register_wh or 0) for r in told}
        assert await readings.newest(connection, [7]) == {7: told[-1].at}
    first = await readings.samples(7, limit=3)
    rest = await readings.samples(7, limit=3, after=first.next)
    assert [s.reading for s in (*first.items, *rest.items)] == told
    assert rest.next is None
