"""The web application in process, over real services and a database of either kind."""

from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import httpx
import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI

from api.app import create_app
from csms.access.cards.service import CardsService
from csms.access.groups.service import GroupsService
from csms.access.keys.service import KeysService
from csms.access.members.service import MembersService
from csms.access.people.service import PeopleService
from csms.access.rights.service import RightsService
from csms.access.tokens.service import TokensService
from csms.clock import ManualClock
from csms.errors import StationError, StationOffline
from csms.power.base_load import BuildingMeter
from csms.power.installation import Circuit, Evse, Installation, Line, System, Wiring
from csms.power.picture import SiteShown, show
from csms.power.steering import SiteState, new_site
from csms.sites.model import Circuit as CircuitRecord
from csms.sites.service import SitesService
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.journal.service import CommandJournal
from csms.stations.quarantine.service import QuarantineService
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.tariffs.service import TariffsService


class Answering:
    """Stations that answer at once what they are told to answer, or are not to be asked."""

    def __init__(self, journal: CommandJournal) -> None:
        self._journal = journal
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


class Shared:
    """The power of Weavers' Yard: one circuit, one bay, one meter."""

    def __init__(self, clock: ManualClock) -> None:
        self._clock = clock
        limits = dict.fromkeys(Line, 63.0)
        wiring = Wiring(evse=Evse("garage-1", 1), circuit="main")
        supply = Circuit(id="main", limit_a=limits, base_a=dict.fromkeys(Line, 30.0))
        site = Installation(system=System.TN_400, circuits=(supply,), wirings=(wiring,))
        self.state: SiteState = new_site(site, {"main": BuildingMeter()})
        self.pushed: list[tuple[str, dict[Line, float], datetime]] = []

    def picture(self, site_id: str) -> SiteShown | None:
        return show(self.state, self._clock.now().timestamp()) if site_id == "weavers-yard" else None

    async def circuit_reading(self, circuit: CircuitRecord, line_a: dict[Line, float], at: datetime) -> None:
        self.pushed.append((circuit.id, line_a, at))


@dataclass
class Central:
    database: Database
    clock: ManualClock
    keys: KeysService
    people: PeopleService
    sites: SitesService
    members: MembersService
    groups: GroupsService
    tokens: TokensService
    rights: RightsService
    unknown_cards: CardsService
    stations: StationsService
    quarantine: QuarantineService
    tariffs: TariffsService
    journal: CommandJournal
    commands: "Answering"
    power: "Shared"


@pytest.fixture
def central(database: Database, clock: ManualClock) -> Central:
    cheap = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    tokens = TokensService(database, clock)
    sites = SitesService(database, clock)
    journal = CommandJournal(database, clock)
    return Central(
        database,
        clock,
        KeysService(database, clock),
        PeopleService(database, clock, hasher=cheap),
        sites,
        MembersService(database, clock),
        GroupsService(database, clock),
        tokens,
        RightsService(database, clock),
        CardsService(database, tokens),
        StationsService(database, clock, sites),
        QuarantineService(database),
        TariffsService(database, clock),
        journal,
        Answering(journal),
        Shared(clock),
    )


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
