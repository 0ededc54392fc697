from datetime import UTC, datetime

import pytest

from csms.errors import NotFound
from csms.stations import repository as stations
from csms.stations.model import Registration
from csms.stations.quirks import repository
from csms.stations.quirks.quirk import Quirk
from csms.stations.record import Station
from csms.store.database import Database

QUIRK = Quirk(
    vendor="Weir",
    model="Lade",
    firmware="1.",
    energy_factor=1000.0,
    zone="Europe/Amsterdam",
    false_z=True,
    note="n",
)


async def test_a_quirk_comes_back_as_it_was_put(database: Database) -> None:
    async with database.write() as connection:
        number = await repository.add_quirk(connection, QUIRK)
        (kept,) = await repository.all_quirks(connection)
        assert kept == Quirk(
            id=number,
            vendor="Weir",
            model="Lade",
            firmware="1.",
            energy_factor=1000.0,
            zone="Europe/Amsterdam",
            false_z=True,
            note="n",
        )
        await repository.drop_quirk(connection, number)
        assert await repository.all_quirks(connection) == ()
        with pytest.raises(NotFound):
            await repository.drop_quirk(connection, number)


async def test_a_station_is_assumed_to_speak_1_6_only_when_said_so(database: Database) -> None:
    now = datetime(2026, 11, 12, tzinfo=UTC)
    async with database.write() as connection:
        station = Station(id="s", registration=Registration.ACCEPTED, created_at=now)
        await stations.insert_station(connection, station)
        assert await repository.assumes_16(connection, "s") is False
        for assume in (True, False, True):
            await repository.assume_16(connection, database.dialect, "s", assume)
            assert await repository.assumes_16(connection, "s") is assume
