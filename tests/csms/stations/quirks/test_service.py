from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from csms.errors import InvalidInput, NotFound
from csms.stations import repository as stations
from csms.stations.events import MetersReported
from csms.stations.model import Reading, Registration
from csms.stations.quirks.quirk import Quirk
from csms.stations.quirks.service import Quirks
from csms.stations.record import Station
from csms.store.database import Database
from csms.store.tables.system import outbox

NOW = datetime(2026, 11, 12, 18, 0, tzinfo=UTC)


async def add_station(database: Database, station_id: str = "s") -> None:
    async with database.write() as connection:
        station = Station(id=station_id, registration=Registration.ACCEPTED, created_at=NOW)
        await stations.insert_station(connection, station)


async def boots(database: Database, quirks: Quirks, firmware: str) -> None:
    told = {"vendor": "Weir", "model": "Lade", "serial": "", "firmware": firmware}
    async with database.write() as connection:
        await stations.set_boot(connection, "s", booted_at=NOW, last_seen_at=NOW, **told)
    quirks.forget("s")


async def test_a_quirk_holds_from_its_adding_to_its_dropping_and_by_firmware(database: Database) -> None:
    await add_station(database)
    quirks = Quirks(database)
    await boots(database, quirks, "1.4.2")
    assert await quirks.of("s") is None
    made = await quirks.add(Quirk(vendor=" Weir\x00 ", model="Lade", firmware="1.4", energy_factor=1000.0))
    assert made.vendor == "Weir"
    assert await quirks.of("s") == made
    await boots(database, quirks, "1.5")
    assert await quirks.of("s") is None
    await boots(database, quirks, "1.4.3")
    assert await quirks.of("s") == made
    assert await quirks.list() == (made,)
    await quirks.drop(made.id)
    assert await quirks.of("s") is None
    with pytest.raises(NotFound):
        await quirks.drop(made.id)


async def test_what_cannot_be_applied_and_unknown_stations_are_refused(database: Database) -> None:
    quirks = Quirks(database)
    with pytest.raises(InvalidInput):
        await quirks.add(Quirk(vendor="Weir"))
    with pytest.raises(NotFound):
        await quirks.assume_16("nobody", True)
    assert await quirks.of("nobody") is None
    assert await quirks.assumes_16("nobody") is False


async def test_numbers_that_betray_a_unit_are_told_once(database: Database) -> None:
    await add_station(database)
    quirks = Quirks(database)
    for n in range(12):
        at = NOW + timedelta(minutes=15 * n)
        reading = Reading(at=at, register_wh=100 + 3 * n, power_w=12_000.0)
        await quirks.readings_told("s", MetersReported(1, (reading,)), at)
    async with database.read() as connection:
        query = select(outbox.c.body).where(outbox.c.topic == "station.quirk_proposed")
        (body,) = (await connection.execute(query)).scalars().all()
    assert (body["energy_factor"], body["ratio"]) == (1000.0, 1000.0)
