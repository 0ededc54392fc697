"""The SQL of stations: what is written comes back, on both databases."""

from dataclasses import replace
from datetime import timedelta

import pytest

from csms.errors import NotFound
from csms.stations import repository
from csms.stations.credentials import StoredKey
from csms.stations.model import EvseStatus, Registration, VariableValue
from csms.stations.record import Evse, Station
from csms.stations.service import StationsService
from csms.store.database import Database
from tests.conftest import NOON

STATION = Station(
    id="BAY-07",
    registration=Registration.PENDING,
    created_at=NOON,
    name="Bay 7",
    site_id="weavers-yard",
    circuit_id="supply",
    wiring=("L2", "L3", "L1"),
    max_current_a=20.5,
    step_a=0.1,
    fallback_a=6.3,
    can_choose_line=True,
    keeps_profiles=False,
    expected_serial="WY 0007",
)


async def test_every_field_comes_back(database: Database, stations: StationsService) -> None:
    later = NOON + timedelta(seconds=90, microseconds=123)
    async with database.write() as connection:
        await repository.insert_station(connection, STATION)
        assert await repository.find_station(connection, "BAY-07") == STATION
        await repository.set_presence(
            connection, "BAY-07", at=later, connected=True, epoch=3, protocol="ocpp1.6"
        )
        await repository.set_boot(connection, "BAY-07", vendor="V", model="M", serial="S", firmware="F")
        await repository.set_boot(connection, "BAY-07", booted_at=later, last_seen_at=later)
        await repository.set_key(connection, "BAY-07", StoredKey(b"salt", b"hash"))
        told = replace(
            STATION,
            presence_at=later,
            connected=True,
            epoch=3,
            protocol="ocpp1.6",
            vendor="V",
            model="M",
            serial="S",
            firmware="F",
            booted_at=later,
            last_seen_at=later,
            has_key=True,
        )
        assert await repository.get_station(connection, "BAY-07", lock=True) == told
        # Writing what is ours leaves alone what the station told.
        await repository.update_station(connection, replace(STATION, name="Bay seven"))
        assert await repository.get_station(connection, "BAY-07") == replace(told, name="Bay seven")
        assert await repository.connected_stations(connection) == (replace(told, name="Bay seven"),)
        assert await repository.get_key(connection, "BAY-07") == StoredKey(b"salt", b"hash")
        await repository.set_key(connection, "BAY-07", None)
        assert await repository.get_key(connection, "BAY-07") is None


async def test_what_is_not_there(database: Database) -> None:
    async with database.read() as connection:
        assert await repository.find_station(connection, "BAY-99") is None
        assert await repository.get_key(connection, "BAY-99") is None
        assert await repository.find_evse(connection, "BAY-99", 1) is None
        assert await repository.count_sessions(connection, "BAY-99") == 0
        assert await repository.list_evses(connection, ()) == ()
        with pytest.raises(NotFound, match="station BAY-99"):
            await repository.get_station(connection, "BAY-99")


async def test_who_waits_is_counted(database: Database, stations: StationsService) -> None:
    async with database.write() as connection:
        await repository.insert_station(connection, STATION)
        assert await repository.count_waiting(connection) == 0
        waiting = replace(STATION, id="NEW-1", site_id=None, circuit_id=None)
        await repository.insert_station(connection, waiting)
        assert await repository.count_waiting(connection) == 1


async def test_an_evse_is_put_again(database: Database, bay: str) -> None:
    told = Evse(
        station_id=bay,
        number=1,
        connector=2,
        confirmed=False,
        status=EvseStatus.FAULTED,
        error="GroundFailure",
        info="wet",
        status_at=NOON,
    )
    async with database.write() as connection:
        for evse in (told, replace(told, number=0, status_at=None), replace(told, info="dry")):
            await repository.put_evse(connection, database.dialect, evse)
        assert await repository.list_evses(connection, (bay, "BAY-99")) == (
            replace(told, number=0, status_at=None),
            replace(told, info="dry"),
        )


async def test_a_sign_of_life_by_the_group_commit(database: Database, bay: str) -> None:
    await database.writer.add(repository.seen(bay, NOON), repository.seen("BAY-99", NOON))
    async with database.read() as connection:
        assert (await repository.get_station(connection, bay)).last_seen_at == NOON


async def test_variables_come_in_pages(database: Database, bay: str) -> None:
    values = [VariableValue(f"A/{letter}", letter, letter == "b") for letter in "abc"]
    async with database.write() as connection:
        await repository.put_variables(connection, database.dialect, bay, values, NOON)
        await repository.put_variables(connection, database.dialect, bay, (), NOON)
        first = await repository.list_variables(connection, bay, after=None, limit=2)
        rest = await repository.list_variables(connection, bay, after=first.next, limit=2)
    assert [*first.items, *rest.items] == values
