"""From a step of the building's load to the last lowering on the stations' side, over real sockets.

200 stations with running sessions live in a second process. A reading of the building's meter
takes current away from all of them; measured is the time from handing the reading to power until
the last station that had to be lowered has its new limit. Both processes read the same monotonic
clock. Between steps the load goes down again and the sharing settles.
"""

import asyncio
import statistics
import sys
import tempfile
import time
from pathlib import Path

from csms.app import Central
from csms.power.installation import Line
from csms.settings import load_settings
from csms.sites.model import CircuitMeter, MeterCounts, System
from csms.stations.service import StationsService

STATIONS = 200
STEPS = 20
LIMIT_A = 2200.0
LOW_A, HIGH_A = 0.0, 700.0
KEY = "0123456789abcdef0123456789abcdef01234567"
BEFORE_A, AFTER_A = 10.5, 7.6
"""Shares: 2200 A for 200 cars are 11 A each; with 700 A of load 7.5 A."""


class Yard:
    """A site with its stations in another process, and the limits that have reached them."""

    def __init__(self, folder: Path) -> None:
        settings = load_settings(data_dir=folder, host="127.0.0.1", ocpp_port=0, raise_delay_s=1)
        self.central = Central(settings)
        self.arrived: dict[str, tuple[int, float]] = {}
        self._news = asyncio.Event()

    async def open(self) -> asyncio.subprocess.Process:
        central = self.central
        await central.start()
        site = await central.sites.create_site(
            name="Weavers' Yard", time_zone="Europe/Amsterdam", currency="EUR", system=System.TN_400
        )
        limits = (LIMIT_A, LIMIT_A, LIMIT_A)
        meter = CircuitMeter(MeterCounts.BASE, 10.0)
        self.supply = await central.sites.create_circuit(
            site.id, name="Supply", fed_from=None, limit_a=limits, meter=meter
        )
        member = await central.members.create(site_id=site.id, name="Bakery")
        await central.tokens.create(text="04A1B2C3D4", member_id=member.id)
        await central.rights.give(site_id=site.id, member_id=member.id)
        await self._stations(central.stations, site.id)
        await central.sites.set_active(site.id, True)
        url = f"ws://127.0.0.1:{central.ocpp_port}/ocpp/"
        command = [sys.executable, "-m", "tools.bench.lowering_stations", url, str(STATIONS), KEY]
        process = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
        self._reader = asyncio.ensure_future(self._read(process))
        self._feeder = asyncio.ensure_future(self._feed())
        self.load_a = LOW_A
        return process

    async def _stations(self, stations: StationsService, site_id: str) -> None:
        for number in range(STATIONS):
            await stations.create(
                id=f"BAY-{number:03d}", site_id=site_id, circuit_id=self.supply.id, step_a=0.1, key=KEY
            )

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout is not None
        async for line in process.stdout:
            at, station, limit = line.decode().split()
            self.arrived[station] = (int(at), float(limit))
            self._news.set()

    async def _feed(self) -> None:
        """The meter's ordinary readings, every two seconds."""
        while True:
            await self.read_meter()
            await asyncio.sleep(2)

    async def read_meter(self) -> None:
        lines = dict.fromkeys(Line, self.load_a)
        await self.central.power.circuit_reading(self.supply, lines, self.central.clock.now())

    async def until(self, *, above: float = 0.0, below: float = 1e9) -> None:
        """Until every station's limit is within."""
        async with asyncio.timeout(120):
            while len(self.arrived) < STATIONS or not all(
                above <= limit <= below for _, limit in self.arrived.values()
            ):
                self._news.clear()
                await self._news.wait()

    async def step(self) -> float:
        """One step up; milliseconds until the last station has its lower limit."""
        self.load_a = HIGH_A
        begun = time.monotonic_ns()
        await self.read_meter()
        await self.until(below=AFTER_A)
        return (max(at for at, _ in self.arrived.values()) - begun) / 1e6

    async def close(self, process: asyncio.subprocess.Process) -> None:
        self._feeder.cancel()
        process.kill()
        await process.wait()
        await self._reader
        await self.central.stop()


async def main() -> None:
    """Print median, p99 and the longest."""
    with tempfile.TemporaryDirectory() as folder:
        yard = Yard(Path(folder))
        process = await yard.open()
        try:
            figures = []
            for number in range(STEPS):
                yard.load_a = LOW_A
                await yard.until(above=BEFORE_A)
                # At any moment of the controller's own second, and of the stations' meter values.
                await asyncio.sleep(1.0 + number * 0.377 % 1.0)
                figures.append(await yard.step())
        finally:
            await yard.close(process)
    figures.sort()
    p99 = statistics.quantiles(figures, n=100)[98]
    print(f"Load step to the last lowering, {STATIONS} stations over sockets, {STEPS} steps: ms")
    print(f"  median {statistics.median(figures):.0f}, p99 {p99:.0f}, longest {figures[-1]:.0f}")
