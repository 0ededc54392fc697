"""Planned stations: created, taken up from waiting, updated, left alone."""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import InvalidInput
from csms.stations.model import Registration
from csms.stations.plan_service import StationPlans
from csms.stations.record import Station
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]
PLAN = Station(
    id="BAY-09",
    registration=Registration.ACCEPTED,
    created_at=NOON.replace(year=1970),
    name="Bay 9",
    site_id="weavers-yard",
    circuit_id="supply",
    wiring=("L3", "L1", "L2"),
    fallback_a=6.0,
    expected_serial="WY-9",
)


async def put(database: Database, clock: ManualClock, station: Station, evses: int = 1) -> bool:
    async with database.write() as connection:
        return await StationPlans(database, clock).put_station(connection, station, evses)


async def test_a_plan_is_put_once(
    database: Database, clock: ManualClock, stations: StationsService, facts: Facts
) -> None:
    assert await put(database, clock, PLAN, 2)
    assert await stations.get("BAY-09") == replace(PLAN, created_at=NOON)
    assert len(await stations.evses("BAY-09")) == 2
    assert not await put(database, clock, PLAN, 2)
    assert await put(database, clock, PLAN, 1)
    assert await put(database, clock, replace(PLAN, fallback_a=0.0), 1)
    told = await facts("station.")
    assert [fact["topic"] for fact in told] == ["station.created", "station.changed", "station.changed"]


async def test_a_waiting_station_is_taken_up_and_a_rejected_one_stays_so(
    database: Database, clock: ManualClock, stations: StationsService, sockets: SocketsService
) -> None:
    await stations.create(id="BAY-09", name="")
    await stations.update("BAY-09", registration=Registration.PENDING)
    assert (await stations.get("BAY-09")).waits
    await put(database, clock, PLAN)
    assert (await stations.get("BAY-09")).registration is Registration.ACCEPTED
    await stations.update("BAY-09", registration=Registration.REJECTED)
    await put(database, clock, replace(PLAN, name="Bay nine"))
    assert (await stations.get("BAY-09")).registration is Registration.REJECTED


async def test_a_serial_is_expected_in_one_place(
    database: Database, clock: ManualClock, stations: StationsService, bay: str
) -> None:
    await put(database, clock, PLAN)
    with pytest.raises(InvalidInput, match="is expected at Bay 9 already"):
        await put(database, clock, replace(PLAN, id="BAY-10", expected_serial="wy-9 "))
    with pytest.raises(InvalidInput, match="is expected at Bay 9 already"):
        await stations.create(id="BAY-10", expected_serial="wy-9")
    with pytest.raises(InvalidInput, match="is expected at Bay 9 already"):
        await stations.update(bay, expected_serial="WY-9")
