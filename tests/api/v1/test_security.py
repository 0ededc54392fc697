"""Security over REST; the whole way up is in tests/scenarios/test_security.py."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def station(manager: httpx.AsyncClient, supply: dict[str, Any]) -> str:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    return "/v1/stations/garage-1/security"


async def test_a_station_that_has_reached_nothing(manager: httpx.AsyncClient, station: str) -> None:
    shown = (await manager.get(station)).json()
    assert shown == {
        "station_id": "garage-1",
        "in_use": None,
        "wanted": None,
        "step": "",
        "detail": "",
        "changed_at": None,
        "key_waits": False,
        "certificates": [],
    }


async def test_what_cannot_be_done_says_why(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, station: str
) -> None:
    assert (await manager.post(f"{station}/key")).status_code == 409, "it is not connected"
    assert (await manager.post(f"{station}/upgrade", json={"profile": 0})).status_code == 422
    assert (await manager.get("/v1/stations/moon/security")).status_code == 404
    assert (await reader.post(f"{station}/set-back")).status_code == 403


async def test_it_is_set_back_by_hand(manager: httpx.AsyncClient, station: str) -> None:
    assert (await manager.post(f"{station}/set-back")).json()["detail"] == "set back by a person"
    assert (await manager.delete(f"{station}/upgrade")).json()["step"] == "failed"
