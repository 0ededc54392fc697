"""The demo: a server, the site loaded by REST, simulated chargers and cars, one accelerated clock."""

import asyncio
import contextlib
import logging
import signal
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import httpx

from api.node import Node
from csms.clock import ScaledClock
from csms.ids import new_secret
from csms.settings import load_settings
from tools.simulator.building import BuildingLoad
from tools.simulator.station import Station
from tools.weavers_yard.arrivals import stays
from tools.weavers_yard.load import common_parts
from tools.weavers_yard.load_site import Loader, slug
from tools.weavers_yard.play import Player, make_stations
from tools.weavers_yard.scenario import scenario
from tools.weavers_yard.site import WEAVERS_YARD, Site

DAYS = 2
METER_PERIOD_S = 10.0
SAMPLE_S = 20
PERSON = "yard"


@dataclass(frozen=True, slots=True)
class Order:
    """`speed`: how many times faster than real time. `data_dir` None: a folder that goes away."""

    http_port: int
    ocpp_port: int
    speed: float
    data_dir: Path | None = None
    host: str = "127.0.0.1"


class Demo:
    """Weavers' Yard, running. `async with` it."""

    def __init__(self, order: Order, data_dir: Path) -> None:
        self.clock = ScaledClock(datetime.now(UTC), order.speed)
        settings = load_settings(
            data_dir=data_dir, host=order.host, http_port=order.http_port, ocpp_port=order.ocpp_port
        )
        speed_text = "" if order.speed == 1 else f"{order.speed:g}"
        self.node = Node(settings, self.clock, speed_text=speed_text)
        self.password = new_secret()[:12]
        self.key = ""
        self.stations: list[Station] = []
        self.client = httpx.AsyncClient(timeout=30)
        self._running: list[asyncio.Task[None]] = []

    async def __aenter__(self) -> "Demo":
        await self.node.start()
        central = self.node.central
        await central.people.create(PERSON, self.password)
        self.key = await central.keys.create("demo")
        self.client.base_url = httpx.URL(self.node.http_url)
        self.client.headers["Authorization"] = f"Bearer {self.key}"
        zone = ZoneInfo(WEAVERS_YARD.time_zone)
        today = self.clock.now().astimezone(zone).date()
        await Loader(self.client, WEAVERS_YARD).load(first_month=f"{today:%Y-%m}")
        drawn = await asyncio.to_thread(stays, today, DAYS, zone, cars=16, vans=6, seed=7)
        load = await asyncio.to_thread(common_parts, today, DAYS, zone)
        url = self.node.ocpp_url.rstrip("/")
        self.stations = make_stations(WEAVERS_YARD, clock=self.clock, url=url, sample_s=SAMPLE_S)
        visits = scenario(self.clock.now(), drawn)
        player = Player(self.stations, self.clock)
        self._running = [asyncio.ensure_future(station.run()) for station in self.stations]
        self._running.append(asyncio.ensure_future(player.play(visits)))
        self._running.append(asyncio.ensure_future(self._meter(WEAVERS_YARD, load)))
        return self

    async def __aexit__(self, *_: object) -> None:
        for task in self._running:
            task.cancel()
        await asyncio.gather(*self._running, return_exceptions=True)
        await self.client.aclose()
        await self.node.stop()

    async def _meter(self, site: Site, load: BuildingLoad) -> None:
        """The building's meter: what the common parts draw, pushed by REST every ten seconds."""
        supply = slug(site.circuits[0].name)
        while True:
            now = self.clock.now()
            lines = dict(zip(("L1", "L2", "L3"), load.currents_a(now), strict=True))
            body = {"current_a": lines, "at": now.isoformat()}
            with contextlib.suppress(httpx.TransportError):
                answer = await self.client.post(f"/v1/circuits/{supply}/readings", json=body)
                answer.raise_for_status()
            await self.clock.sleep(METER_PERIOD_S)


BANNER = """
  Weavers' Yard: 24 bays, two boards, 3 x 63 A. {pace}

  page      {url}
  sign in   {person} / {password}
  REST      {url}/v1  with  Authorization: Bearer {key}
  chargers  {ocpp}{{identity}}

  Everything is invented and simulated; the chargers speak real OCPP 1.6J and 2.0.1. Stop with Ctrl-C.
"""


def banner(demo: Demo, speed: float) -> str:
    """What the terminal shows."""
    pace = "Time is real." if speed == 1 else f"Time is accelerated: {speed:g} times as fast as real time."
    return BANNER.format(
        pace=pace,
        url=demo.node.http_url,
        person=PERSON,
        password=demo.password,
        key=demo.key,
        ocpp=demo.node.ocpp_url,
    )


@contextlib.contextmanager
def folder(wanted: Path | None) -> Iterator[Path]:
    """The folder for the data: the one that was asked for, else one that goes away."""
    if wanted is not None:
        wanted.mkdir(parents=True, exist_ok=True)
        yield wanted
        return
    with tempfile.TemporaryDirectory(prefix="weavers-yard-") as made:
        yield Path(made)


async def run(order: Order) -> None:
    """Run the demo until Ctrl-C."""
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    stop = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    with folder(order.data_dir) as data_dir:
        async with Demo(order, data_dir) as demo:
            print(banner(demo, order.speed), flush=True)
            await stop.wait()
