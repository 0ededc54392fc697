"""The web application in process, over a real Central and a database of either kind."""

from collections.abc import AsyncIterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.app import create_app
from csms.app import Central
from csms.clock import ManualClock
from csms.errors import StationError, StationOffline
from csms.settings import Settings
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.journal.service import CommandJournal
from tests.csms.ledger.small_yard import SmallYard


class Answering:
    """Stations that answer at once what they are told to answer, or are not to be asked."""

    def __init__(self, journal: CommandJournal) -> None:
        self._journal = journal
        self.station_ids = frozenset({"garage-1"})
        self.asked: list[tuple[str, Command]] = []
        self.answer: CommandResult | StationError = CommandResult(CommandStatus.ACCEPTED)

    async def ask(self, station_id: str, command: Command, *, asked_by: str = "") -> CommandResult:
        self.asked.append((station_id, command))
        command_id = await self._journal.asked(station_id, command, asked_by=asked_by)
        if isinstance(self.answer, StationOffline):
            await self._journal.offline(command_id)
        elif isinstance(self.answer, StationError):
            await self._journal.timed_out(command_id)
        if isinstance(self.answer, StationError):
            raise self.answer
        await self._journal.answered(command_id, self.answer)
        return self.answer


@pytest.fixture
async def central(database_url: str, clock: ManualClock) -> AsyncIterator[Central]:
    """The whole system without its sockets: the database is open, and nothing runs by itself."""
    made = Central(Settings(database_url=database_url), clock)
    await made.database.open()
    yield made
    await made.power.stop()
    await made.tasks.close()
    await made.database.close()


@pytest.fixture
def answering(central: Central, monkeypatch: pytest.MonkeyPatch) -> Answering:
    """Stations behind `central.commands`."""
    stations = Answering(central.journal)
    monkeypatch.setattr(central, "commands", stations)
    return stations


@pytest.fixture
def app(central: Central) -> FastAPI:
    return create_app(central)


@pytest.fixture
async def manager(app: FastAPI, central: Central) -> AsyncIterator[httpx.AsyncClient]:
    """Somebody with a key that may do everything."""
    async with client(app, await central.keys.create("manager", "manager")) as each:
        yield each


@pytest.fixture
async def reader(app: FastAPI, central: Central) -> AsyncIterator[httpx.AsyncClient]:
    """Somebody with a key that may only read."""
    async with client(app, await central.keys.create("reader", "reader")) as each:
        yield each


@pytest.fixture
async def stranger(app: FastAPI) -> AsyncIterator[httpx.AsyncClient]:
    """Somebody without a key."""
    async with client(app) as each:
        yield each


def client(app: FastAPI, key: str | None = None, **more: Any) -> httpx.AsyncClient:
    transport = httpx.ASGITransport(app, raise_app_exceptions=False)
    headers = {} if key is None else {"Authorization": f"Bearer {key}"}
    return httpx.AsyncClient(transport=transport, base_url="http://weavers-yard", headers=headers, **more)


SITE = {
    "id": "weavers-yard",
    "name": "Weavers' Yard",
    "time_zone": "Europe/Oslo",
    "currency": "NOK",
    "system": "TN-400",
}


@pytest.fixture
async def yard(manager: httpx.AsyncClient) -> dict[str, Any]:
    """The site."""
    made = await manager.post("/v1/sites", json=SITE)
    assert made.status_code == 201, made.text
    found: dict[str, Any] = made.json()
    return found


@pytest.fixture
async def supply(manager: httpx.AsyncClient, yard: dict[str, Any]) -> dict[str, Any]:
    """The incoming line, 3 x 63 A, measured every 10 s."""
    made = await manager.post(
        "/v1/circuits",
        json={
            "id": "main",
            "site_id": yard["id"],
            "name": "Supply",
            "limit_a": 63,
            "device_a": 63,
            "worst_base_a": 30,
            "meter": {"counts": "base", "period_s": 10},
        },
    )
    assert made.status_code == 201, made.text
    found: dict[str, Any] = made.json()
    return found


@pytest.fixture
async def flat(manager: httpx.AsyncClient, yard: dict[str, Any]) -> dict[str, Any]:
    """A member."""
    made = await manager.post("/v1/members", json={"id": "flat-12", "site_id": yard["id"], "name": "Flat 12"})
    assert made.status_code == 201, made.text
    found: dict[str, Any] = made.json()
    return found


@pytest.fixture
async def small(central: Central, clock: ManualClock) -> SmallYard:
    """A site that can be billed, in January."""
    made = SmallYard(central, clock)
    await made.found()
    return made
