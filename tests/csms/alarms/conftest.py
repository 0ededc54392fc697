"""Alarms at the small Weavers' Yard."""

import pytest

from csms.alarms.route_service import AlarmRoutes
from csms.alarms.service import AlarmsService
from csms.clock import ManualClock
from csms.store.database import Database
from tests.csms.yard import build_yard


@pytest.fixture
async def yard(database: Database) -> Database:
    await build_yard(database)
    return database


@pytest.fixture
def alarms(yard: Database, clock: ManualClock) -> AlarmsService:
    async def concerned(station_id: str, evse: int | None) -> tuple[str, ...]:
        return (f"driver-at-{station_id}-{evse}@weavers.example",)

    return AlarmsService(yard, clock, concerned=concerned)


@pytest.fixture
def routes(yard: Database, clock: ManualClock) -> AlarmRoutes:
    return AlarmRoutes(yard, clock)
