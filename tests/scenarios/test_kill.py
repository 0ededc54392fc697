"""kill -9 in the middle of fifty sessions, three times, and every session is there once with all its energy.

The stations are simulated (half 1.6, half 2.0.1); they keep what was not answered and say it again, as
OCPP wants (1.6 section 3.7, 2.0.1 part 4). Their clock lies three hours back and is moved by hand, ten
seconds of charging at a time, as fast as the server answers: so at every moment messages are under way.
"""

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.scenarios.process import Process
from tests.scenarios.rest import Rest
from tools.simulator.car import Car
from tools.simulator.clock import SteppedClock
from tools.simulator.fleet import LOAD_CARS, FleetOrder, make_fleet
from tools.simulator.link import LinkSettings
from tools.simulator.outbox import Letter
from tools.simulator.station import Station

STATIONS = 50
STEP_S = 10.0
MOST_WAITING = 4
SEED = 20_261_112


class Told:
    """All that a station had to tell of its transaction, kept when it was written and not when sent."""

    def __init__(self, station: Station, on_answer: Callable[[], None]) -> None:
        self.station = station
        self.letters = 0
        self.at: set[datetime] = set()
        self.start_wh = self.stop_wh = Decimal(-1)
        put = station.link.outbox.put

        def note(letter: Letter) -> None:
            self._note(letter)
            answered = letter.answered

            def heard(answer: dict[str, Any]) -> None:
                if answered is not None:
                    answered(answer)
                on_answer()

            letter.answered = heard
            put(letter)

        station.link.outbox.put = note  # type: ignore[method-assign]

    @property
    def busy(self) -> bool:
        """Whether an answer is outstanding: to a message about the transaction, or to its card."""
        bay = self.station.bays[0]
        asks = bay.plugged and bay.session is None and not self.letters
        return asks or len(self.station.link.outbox) > 0

    def _note(self, letter: Letter) -> None:
        self.letters += 1
        payload = letter.build()
        for reading in [*payload.get("meterValue", []), *payload.get("transactionData", [])]:
            self.at.add(datetime.fromisoformat(reading["timestamp"]))
        if letter.action == "StartTransaction":
            self.start_wh = Decimal(payload["meterStart"])
        elif letter.action == "StopTransaction":
            self.stop_wh = Decimal(payload["meterStop"])
        elif payload.get("eventType") in ("Started", "Ended"):
            (told,) = [
                sample["value"]
                for sample in payload["meterValue"][0]["sampledValue"]
                if sample["measurand"] == "Energy.Active.Import.Register"
            ]
            whole = Decimal(str(told)).quantize(Decimal(1), ROUND_HALF_UP)
            if payload["eventType"] == "Started":
                self.start_wh = whole
            else:
                self.stop_wh = whole


class Hall:
    """Fifty stations of one hall, and the hands that move them."""

    def __init__(self, url: str) -> None:
        self.random = Random(SEED)
        self.clock = SteppedClock(datetime.now(UTC) - timedelta(hours=3))
        order = FleetOrder(count=STATIONS, prefix="HALL-", sample_s=int(STEP_S))
        settings = LinkSettings(url=url, wait_min_s=0.1, wait_random_s=0.2)
        self.stations = make_fleet(order, clock=self.clock, settings=settings, random=self.random)
        self.answered = 0
        self._heard = asyncio.Event()
        self._heard.set()
        self._moments: list[tuple[int, Callable[[], None]]] = []
        self.told = [Told(station, self._on_answer) for station in self.stations]
        self._links = [asyncio.ensure_future(station.link.run()) for station in self.stations]

    async def close(self) -> None:
        for link in self._links:
            link.cancel()
        await asyncio.gather(*self._links, return_exceptions=True)

    def _on_answer(self) -> None:
        self._heard.set()
        self.answered += 1
        due = [act for count, act in self._moments if count <= self.answered]
        self._moments = [moment for moment in self._moments if moment[0] > self.answered]
        for act in due:
            act()

    async def after(self, answers: int, act: Callable[[], None]) -> None:
        """Do it at the very moment at which so many more have been answered."""
        done = asyncio.Event()
        self._moments += [(self.answered + answers, act), (self.answered + answers, done.set)]
        async with asyncio.timeout(60):
            await done.wait()

    @property
    def under_way(self) -> int:
        """Stations that wait for an answer."""
        return sum(told.busy for told in self.told)

    async def begin_all(self) -> None:
        """A car at each station, and the card held to it until it may charge."""

        async def begin(station: Station) -> None:
            model = LOAD_CARS[self.random.randrange(len(LOAD_CARS))]
            station.plug_in(Car(model, soc=0.1, random=station.random))
            verdict = "Offline"
            while verdict == "Offline":
                await station.link.accepted()
                verdict = await station.present(card_of(station.identity))
            assert verdict == "Accepted"

        await asyncio.gather(*(begin(station) for station in self.stations))

    async def charge(self) -> None:
        """For ever: ten seconds of charging, as soon as nobody has too much to tell."""
        while True:
            await self._heard.wait()
            if any(len(station.link.outbox) >= MOST_WAITING for station in self.stations):
                self._heard.clear()
                continue
            self.clock.advance(STEP_S)
            for station in self.stations:
                station.step(STEP_S)
            await asyncio.sleep(0)

    def leave_all(self) -> None:
        for station in self.stations:
            station.unplug()

    async def delivered(self) -> None:
        """Return when all has been answered."""
        async with asyncio.timeout(60):
            for station in self.stations:
                await station.link.outbox.emptied()


@pytest.fixture
async def process(database_url: str, tmp_path: Path) -> AsyncIterator[Process]:
    made = Process(tmp_path, database_url)
    yield made
    made.stop()


def card_of(station_id: str) -> str:
    return f"04D1ED{station_id[-4:]}"


async def make_hall(rest: Rest) -> None:
    site = {"id": "hall", "name": "Dye hall", "time_zone": "Europe/Amsterdam", "currency": "EUR"}
    await rest.post("/sites", {**site, "system": "TN-400"})
    await rest.post("/members", {"id": "dyers", "site_id": "hall", "name": "Dyers", "kind": "vehicle"})

    async def make_place(station_id: str) -> None:
        # On no circuit: their clock runs too fast for offers that end after two minutes.
        await rest.post("/stations", {"id": station_id, "site_id": "hall"})
        # Each its own card, as one can charge in one place at a time.
        await rest.post("/tokens", {"text": card_of(station_id), "member_id": "dyers"})

    await asyncio.gather(*(make_place(f"HALL-{number:04d}") for number in range(1, STATIONS + 1)))
    await rest.post("/rights", {"site_id": "hall", "member_id": "dyers"})


@pytest.mark.timeout(180)
async def test_every_session_survives_three_kills_once_and_with_all_its_energy(process: Process) -> None:
    key = await process.key()
    await process.start()
    async with Rest(process.http_url, key) as rest:
        await make_hall(rest)
        hall = Hall(process.ocpp_url)
        try:
            await live_through(hall, process)
        finally:
            await hall.close()
        await check(hall, rest)
    assert process.complaints() == []


async def live_through(hall: Hall, process: Process) -> None:
    """Begin, charge and leave, with a kill in each."""
    moment = Random(SEED)

    under_way: list[int] = []

    def kill() -> None:
        under_way.append(hall.under_way)
        process.kill()

    async def kill_after(answers: int) -> None:
        await hall.after(answers, kill)
        assert under_way.pop() > 0, "the kill is to come in the middle"
        await process.start()

    beginning = asyncio.ensure_future(hall.begin_all())
    await kill_after(moment.randrange(3, STATIONS - 3))
    await beginning
    charging = asyncio.ensure_future(hall.charge())
    await kill_after(moment.randrange(200, 800))
    await hall.after(10 * STATIONS, lambda: None)
    charging.cancel()
    hall.leave_all()
    await kill_after(moment.randrange(3, STATIONS - 3))
    await hall.delivered()


async def check(hall: Hall, rest: Rest) -> None:
    """What is there by REST is what the stations' registers say."""
    sessions: list[dict[str, Any]] = await rest.every("/sessions?site=hall&limit=200")
    assert sorted(one["station_id"] for one in sessions) == [one.identity for one in hall.stations]
    found = {one["station_id"]: one for one in sessions}
    assert {(one["state"], one["member_id"]) for one in sessions} == {("ended", "dyers")}
    assert [one["marks"] for one in sessions if one["marks"]] == []
    assert [one.station.identity for one in hall.told if one.station.link.outbox.dropped] == []
    energy = {one.station.identity: int(one.stop_wh - one.start_wh) for one in hall.told}
    assert {name: one["energy_wh"] for name, one in found.items()} == energy
    assert min(energy.values()) > 100

    async def check_samples(one: Told) -> None:
        session = found[one.station.identity]
        samples = await rest.every(f"/sessions/{session['id']}/samples?limit=200")
        assert {datetime.fromisoformat(sample["at"]) for sample in samples} == one.at

    await asyncio.gather(*(check_samples(one) for one in hall.told))
    assert await rest.every("/events?topic=session.orphan") == []
    assert len(await rest.every("/events?topic=session.started&limit=200")) == STATIONS
    assert len(await rest.every("/events?topic=session.ended&limit=200")) == STATIONS
