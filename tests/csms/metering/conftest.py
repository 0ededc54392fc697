"""The supply of the yard with its meter, and who hears of it."""

import asyncio
import shutil
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from csms.clock import Clock, SystemClock
from csms.metering.building_service import BuildingService
from csms.metering.meter_service import Surroundings
from csms.sites.model import Circuit, CircuitMeter, MeterCounts
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact
from tests.csms.metering.rigs import MOSQUITTO, RIGS, Rig
from tests.csms.yard import SITE, SUPPLY, build_yard, facts

NOON = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
PERIOD_S = 0.2
SILENT_S = 1.0


@dataclass(slots=True)
class Heard:
    """What power was told."""

    readings: "asyncio.Queue[tuple[str, dict[str, float], datetime]]"

    async def hear(self, circuit: Circuit, told: Mapping[str, float], at: datetime) -> None:
        self.readings.put_nowait((circuit.id, dict(told), at))

    async def next(self) -> dict[str, float]:
        async with asyncio.timeout(15):
            _, told, _ = await self.readings.get()
        return told

    async def waits_for(self, wanted: Mapping[str, float]) -> None:
        """Until a reading like `wanted` comes; TimeoutError after 15 s."""
        async with asyncio.timeout(15):
            while (await self.next()) != pytest.approx(dict(wanted)):
                pass


@dataclass(slots=True)
class Yard:
    """The database with the supply, its services and its ear."""

    database: Database
    sites: SitesService
    meters: BuildingService
    heard: Heard
    folder: Path

    async def measure(
        self,
        given: Mapping[str, object] | None,
        *,
        counts: MeterCounts = MeterCounts.BASE,
        period_s: float = PERIOD_S,
    ) -> Circuit:
        """The supply measured in that way from now on."""
        return await self.sites.update_circuit(SUPPLY, meter=CircuitMeter(counts, period_s, given))

    async def fact(self, topic: str, after: int = 0) -> Fact:
        """The first fact of that topic after the first `after` of all meters; TimeoutError after 20 s."""
        async with asyncio.timeout(20):
            while True:
                for fact in (await facts(self.database, "meter."))[after:]:
                    if fact.topic == topic:
                        return fact
                await asyncio.sleep(0.02)


MakeYard = Callable[[Database, Clock], Awaitable[Yard]]


@pytest.fixture
async def make_yard(tmp_path: Path) -> AsyncIterator[MakeYard]:
    made: list[Yard] = []

    async def make(database: Database, clock: Clock) -> Yard:
        await build_yard(database)
        heard = Heard(asyncio.Queue())
        around = Surroundings(
            database=database,
            clock=clock,
            secrets=tmp_path / "secrets",
            silent_at_least_s=SILENT_S,
            hear=heard.hear,
            first_retry_s=0.1,
            most_retry_s=0.5,
        )
        sites = SitesService(database, clock)
        yard = Yard(database, sites, BuildingService(around, sites), heard, tmp_path)
        made.append(yard)
        return yard

    yield make
    for yard in made:
        await yard.meters.stop()


@pytest.fixture
async def small_database(sqlite_template: Path, tmp_path: Path) -> AsyncIterator[Database]:
    """Where it is not the database that is tested."""
    path = tmp_path / "yard.db"
    shutil.copyfile(sqlite_template, path)
    opened = Database(f"sqlite+aiosqlite:///{path}")
    await opened.open()
    yield opened
    await opened.close()


@pytest.fixture
async def yard(small_database: Database, make_yard: MakeYard) -> Yard:
    """In real time, as sockets have it."""
    return await make_yard(small_database, SystemClock())


@pytest.fixture(params=RIGS, ids=lambda kind: kind.kind)
async def rig(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Rig]:
    """A meter of each kind, switched on."""
    if request.param.kind == "mqtt" and MOSQUITTO is None:
        pytest.skip("no mosquitto here (Debian: apt install mosquitto)")
    made: Rig = request.param(tmp_path)
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
async def measured(yard: Yard, rig: Rig) -> Yard:
    """The supply's meter is listened to."""
    rig.circuit = await yard.measure(rig.config)
    rig.service = yard.meters
    await yard.meters.start()
    return yard


__all__ = ["NOON", "PERIOD_S", "SILENT_S", "SITE", "SUPPLY", "Heard", "MakeYard", "Yard"]
