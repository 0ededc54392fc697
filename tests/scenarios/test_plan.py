"""A van that is to be full by six, over real sockets: it waits for the cheap hours, and is full by six.

Server, charger and van share a clock that stands still until it is moved, and while a plan is calculated.
"""

import asyncio
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from ocpp.v201 import call

from api.node import Node
from csms.clock import ManualClock
from csms.settings import load_settings
from tests.scenarios.charger import Charger
from tests.scenarios.rest import Rest, until
from tests.scenarios.site import CARDS, SITE
from tools.simulator.car import Car, CarModel
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel, Version

pytestmark = [pytest.mark.parametrize("database_url", ["sqlite"], indirect=True), pytest.mark.timeout(240)]

COMES = datetime(2026, 11, 3, 2, 20, tzinfo=UTC)
"""Twenty past three in the night at the bakery."""
CHEAP_FROM = datetime(2026, 11, 3, 3, 0, tzinfo=UTC)
BY_SIX = datetime(2026, 11, 3, 5, 0, tzinfo=UTC)
BATTERY_WH = 40_000
STEP_S = 30


class Bakery:
    """One charger, one van, and everybody's clock."""

    def __init__(self, node: Node, clock: ManualClock, rest: Rest) -> None:
        self.node, self.clock, self.rest = node, clock, rest
        self.station: Station = make_station(
            StationModel(identity="BAKERY-1", version=Version.V201),
            clock=clock,
            settings=LinkSettings(url=node.ocpp_url, wait_min_s=0.05, wait_random_s=0.05),
            random=Random(3),
            options=Options(sample_s=60),
        )
        # Seven tenths full and without a taper: 12 kWh are missing in the battery, 13.3 kWh at the socket.
        model = CarModel(name="bread van", battery_wh=BATTERY_WH, taper_from=1.0)
        self.van = Car(model, soc=0.7, random=Random(4))
        self.link = asyncio.ensure_future(self.station.link.run())

    async def close(self) -> None:
        self.link.cancel()
        await asyncio.gather(self.link, return_exceptions=True)

    @property
    def current_a(self) -> float:
        return max(self.station.site_currents_a())

    async def pass_time(self, to: datetime) -> list[tuple[datetime, float]]:
        """Move everybody to that instant; what the van drew on the way."""
        drawn = []
        worker = self.node.central.planning.planner._worker
        while self.clock.now() < to:
            self.clock.advance(STEP_S)
            self.station.step(STEP_S)
            quiet = 0
            while quiet < 3:
                await asyncio.sleep(0.003)
                busy = len(self.station.link.outbox) > 0 or worker._lock.locked()
                quiet = 0 if busy else quiet + 1
            drawn.append((self.clock.now(), self.current_a))
        return drawn


@pytest.fixture
async def bakery(database_url: str, tmp_path: Path) -> AsyncIterator[Bakery]:
    clock = ManualClock(COMES)
    settings = load_settings(
        data_dir=tmp_path,
        database_url=database_url,
        host="127.0.0.1",
        http_port=0,
        ocpp_port=0,
        planner_time_limit_s=60,
    )
    node = Node(settings, clock)
    await node.start()
    async with Rest(node.http_url, await node.central.keys.create("bakery")) as rest:
        site = {"id": "bakery", "name": "Bakery", "time_zone": "Europe/Oslo", "currency": "NOK"}
        await rest.post("/sites", {**site, "system": "TN-400"})
        await rest.post("/circuits", {"id": "oven", "site_id": "bakery", "name": "Supply", "limit_a": 32})
        place = {"id": "BAKERY-1", "site_id": "bakery", "circuit_id": "oven", "fallback_a": 6}
        await rest.post("/stations", place)
        await rest.post("/members", {"id": "van", "site_id": "bakery", "name": "Bread van"})
        await rest.post("/tokens", {"text": "04B4EAD0", "member_id": "van"})
        await rest.post("/rights", {"site_id": "bakery", "member_id": "van"})
        hour = timedelta(hours=1)
        prices = [(COMES - hour, CHEAP_FROM, "2.40"), (CHEAP_FROM, BY_SIX + 24 * hour, "0.60")]
        body = [{"start": a.isoformat(), "end": b.isoformat(), "per_kwh": price} for a, b, price in prices]
        await rest.send("PUT", "/sites/bakery/prices", {"currency": "NOK", "prices": body})
        # To be full by six on every weekday: what the fleet's manager says once.
        need = {"days": [1, 2, 3, 4, 5], "leaves_at": "06:00", "to_percent": 100, "battery_wh": BATTERY_WH}
        await rest.send("PUT", "/members/van/need", need)
        await rest.send("PATCH", "/sites/bakery", {"strategy": "planned"})
        await rest.send("PATCH", "/sites/bakery", {"active": True})
        made = Bakery(node, clock, rest)
        await made.station.link.accepted()
        yield made
        await made.close()
    await node.stop()


async def test_a_van_that_is_to_be_full_by_six_charges_in_the_cheap_hours(bakery: Bakery) -> None:
    bakery.station.plug_in(bakery.van)
    assert await bakery.station.present("04B4EAD0") == "Accepted"
    await bakery.pass_time(COMES + timedelta(minutes=3))
    (session,) = await bakery.rest.sessions("BAKERY-1")
    await bakery.rest.send("PUT", f"/sessions/{session['id']}/need", {"to_percent": 100, "soc_percent": 70})
    await bakery.pass_time(COMES + timedelta(minutes=6))

    plan = await bakery.rest.get("/sites/bakery/plan")
    assert plan["fault"] == ""
    (van,) = plan["cars"]
    assert van["need"]["departure"] == "2026-11-03T05:00:00Z"
    assert (van["need"]["energy_from"], van["need"]["departure_from"]) == ("person", "member")
    assert van["need"]["energy_kwh"] == pytest.approx(12 / 0.9, abs=0.7)
    assert van["slots"][0]["reason"].startswith("Waits for the cheaper hours from 04:")
    assert van["shortfall"] is None

    dear = await bakery.pass_time(CHEAP_FROM)
    assert max(amps for _, amps in dear) == 0.0, "dear hours"
    cheap = await bakery.pass_time(BY_SIX)
    assert max(amps for _, amps in cheap) == pytest.approx(16.0, abs=0.1)
    assert bakery.van.soc == pytest.approx(1.0, abs=0.005), "full by six"
    (session,) = await bakery.rest.sessions("BAKERY-1")
    assert session["energy_wh"] == pytest.approx(12_000 / 0.9, rel=0.02)
    pauses = (await bakery.rest.get(f"/sessions/{session['id']}/pauses"))["items"]
    assert any(pause["by_us"] for pause in pauses), "it waited for us, and is not billed for that"


async def test_a_cars_own_need_is_answered_and_planned(rest: Rest, chargers: dict[str, Charger]) -> None:
    """NotifyEVChargingNeeds by the package `ocpp`, which checks it and our answer against the schemas."""
    await rest.send("PATCH", f"/sites/{SITE}", {"strategy": "planned"})
    charger: Any = chargers["2.0.1"]
    await charger.dial()
    await charger.boot()

    def needs(energy_wh: int) -> Any:
        ac = {"energy_amount": energy_wh, "ev_min_current": 6, "ev_max_current": 16, "ev_max_voltage": 400}
        told = {
            "requested_energy_transfer": "AC_three_phase",
            "departure_time": "2026-11-13T05:00:00Z",
            "ac_charging_parameters": ac,
        }
        return call.NotifyEVChargingNeeds(evse_id=1, charging_needs=told)

    async def answered(energy_wh: int, status: str) -> bool | None:
        return (await charger.call(needs(energy_wh))).status == status or None

    await until(lambda: answered(9_000, "Processing"), "the site is planned by now", timeout_s=60)
    at = datetime.fromisoformat(str(await charger.heartbeat()))
    await charger.start(CARDS["corner-201"], at, 1_000)
    assert await answered(24_000, "Accepted")

    async def planned() -> bool | None:
        plan = await rest.get(f"/sites/{SITE}/plan")
        needs_of = [car["need"] for car in plan["cars"]]
        return [(n["energy_kwh"], n["energy_from"], n["departure"]) for n in needs_of] == [
            (24.0, "car", "2026-11-13T05:00:00Z")
        ] or None

    await until(planned, "the plan has what the car told", timeout_s=60)
