"""People at the pages of a yard."""

from collections.abc import AsyncIterator
from typing import Any

import httpx
import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI

from csms.access.people.service import PeopleService
from csms.app import Central
from csms.clock import SystemClock
from tests.api.web.visitor import CARD, PASSWORD, Visitor


@pytest.fixture
async def people(central: Central, monkeypatch: pytest.MonkeyPatch) -> None:
    """A manager and a reader, with cheap hashes."""
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(central, "people", PeopleService(central.database, SystemClock(), hasher=hasher))
    await central.people.create("forewoman", PASSWORD)
    await central.people.create("onlooker", PASSWORD, "reader")


@pytest.fixture
async def visitor(app: FastAPI, people: None) -> AsyncIterator[Visitor]:
    """Nobody has signed in yet."""
    made = Visitor(app)
    yield made
    await made.client.aclose()


@pytest.fixture
async def forewoman(visitor: Visitor) -> Visitor:
    """May change things."""
    await visitor.sign_in("forewoman")
    return visitor


@pytest.fixture
async def onlooker(visitor: Visitor) -> Visitor:
    """May only look."""
    await visitor.sign_in("onlooker")
    return visitor


@pytest.fixture
async def garage(manager: httpx.AsyncClient, supply: dict[str, Any], flat: dict[str, Any]) -> None:
    """A station, a card of Flat 12, a group without members."""
    bodies = {
        "/v1/stations": {
            "id": "garage-1",
            "name": "Bay 1",
            "site_id": "weavers-yard",
            "circuit_id": "main",
        },
        "/v1/tokens": {"id": "tok-12", "text": CARD, "member_id": "flat-12", "label": "blue"},
        "/v1/groups": {"id": "residents", "site_id": "weavers-yard", "name": "Residents"},
    }
    for address, body in bodies.items():
        made = await manager.post(address, json=body)
        assert made.status_code == 201, made.text
