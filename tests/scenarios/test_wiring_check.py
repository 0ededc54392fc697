"""The wiring check over real sockets: a charger whose lines were swapped, and the meter that shows it.

By the records the charger's L1, L2, L3 hang on L1, L2, L3 of the supply; in truth on L2, L3, L1. A car on
one line charges there, and the building's meter counts all. The charger told its currents once a minute
when it came, which is too seldom below such a meter. Server and charger share one clock moved by hand.
"""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from random import Random

import pytest

from api.node import Node
from csms.clock import ManualClock
from csms.settings import load_settings
from tests.scenarios.rest import Json, Rest
from tools.simulator.car import Car, CarModel
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel, Version

pytestmark = [
    pytest.mark.parametrize("database_url", ["sqlite"], indirect=True),
    pytest.mark.timeout(240),
]

SITE, BAY, CARD = "yard", "SWAP-1", "04CA0001"
SWAPPED = (1, 2, 0)
BASE_A = (4.0, 7.0, 3.0)
STEP_S = 2
CAR = CarModel(name="one line, 20 A", battery_wh=60_000, lines=1, max_current_a=20)


class Bench:
    """One charger, one car, one meter, moved two seconds at a time."""

    def __init__(self, clock: ManualClock, rest: Rest, station: Station) -> None:
        self.clock, self.rest, self.station = clock, rest, station
        self.link = asyncio.ensure_future(station.link.run())

    async def pass_time(self, seconds: int) -> None:
        for _ in range(0, seconds, STEP_S):
            lines = [base + car for base, car in zip(BASE_A, self.station.site_currents_a(), strict=True)]
            reading = dict(zip(("L1", "L2", "L3"), lines, strict=True))
            await self.rest.post("/circuits/main/readings", {"current_a": reading})
            self.clock.advance(STEP_S)
            self.station.step(STEP_S)
            quiet = 0
            for _ in range(200):
                await asyncio.sleep(0.002)
                quiet = 0 if self.station.link.online and len(self.station.link.outbox) else quiet + 1
                if quiet >= 3:
                    break

    async def close(self) -> None:
        self.link.cancel()
        await asyncio.gather(self.link, return_exceptions=True)


@pytest.fixture
async def node(database_url: str, tmp_path: Path, clock: ManualClock) -> AsyncIterator[Node]:
    settings = load_settings(
        data_dir=tmp_path, database_url=database_url, host="127.0.0.1", http_port=0, ocpp_port=0
    )
    made = Node(settings, clock)
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
def version() -> Version:
    return Version.V16


@pytest.fixture
async def bench(version: Version, node: Node, clock: ManualClock) -> AsyncIterator[Bench]:
    async with Rest(node.http_url, await node.central.keys.create("bench")) as rest:
        site: Json = {"id": SITE, "name": "Yard", "time_zone": "Europe/Amsterdam", "currency": "EUR"}
        await rest.post("/sites", {**site, "system": "TN-400"})
        meter = {"counts": "total", "period_s": STEP_S}
        supply = {"id": "main", "site_id": SITE, "name": "Supply", "limit_a": 63, "worst_base_a": 20}
        await rest.post("/circuits", {**supply, "meter": meter})
        place = {"id": BAY, "site_id": SITE, "circuit_id": "main", "wiring": ["L1", "L2", "L3"]}
        await rest.post("/stations", {**place, "fallback_a": 6})
        await rest.post("/members", {"id": "guest", "site_id": SITE, "name": "Guest"})
        await rest.post("/tokens", {"text": CARD, "member_id": "guest"})
        await rest.post("/rights", {"site_id": SITE, "member_id": "guest"})
        await rest.send("PATCH", f"/sites/{SITE}", {"active": True})
        station = make_station(
            StationModel(identity=BAY, version=version, wiring=SWAPPED),
            clock=clock,
            settings=LinkSettings(url=node.ocpp_url, wait_min_s=0.05, wait_random_s=0.05),
            random=Random(7),
            options=Options(sample_s=60),
        )
        made = Bench(clock, rest, station)
        await station.link.accepted()
        await made.pass_time(6)
        yield made
        await made.close()


@pytest.mark.parametrize("version", Version)
async def test_a_charger_below_a_total_meter_is_told_to_tell_currents_every_ten_seconds(bench: Bench) -> None:
    assert bench.station.options.sample_s == 10
    (bay,) = (await bench.rest.get(f"/sites/{SITE}/power"))["bays"]
    assert bay["remarks"] == []


async def test_a_swapped_charger_is_found_by_stepping_its_car(bench: Bench) -> None:
    await bench.pass_time(64)  # the building has been calm for a minute, so that a car can start
    bench.station.plug_in(Car(CAR, soc=0.1, random=Random(3)))
    assert await bench.station.present(CARD) == "Accepted"
    await bench.pass_time(60)
    (bay,) = (await bench.rest.get(f"/sites/{SITE}/power"))["bays"]
    assert (bay["state"], bay["remarks"]) == ("charging", [])
    started = await bench.rest.post(f"/stations/{BAY}/wiring-check")
    assert started["running"]
    found: Json = started
    for _ in range(45):
        await bench.pass_time(10)
        found = await bench.rest.get(f"/stations/{BAY}/wiring-check")
        if not found["running"]:
            break
    result = found["result"]
    assert (result["verdict"], result["circuit_id"]) == ("differs", "main")
    assert [(line["station_line"], line["configured"], line["found"]) for line in result["lines"]] == [
        ("L1", "L1", "L2")
    ]
    assert result["lines"][0]["gains"]["L2"] == pytest.approx(1.0, abs=0.1)
    assert result["confidence"] > 0.8
    await bench.pass_time(40)
    (bay,) = (await bench.rest.get(f"/sites/{SITE}/power"))["bays"]
    assert bay["offer_a"] > 19.0, "the car has all it can take again"
