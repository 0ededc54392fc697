"""Logs over REST; one that comes is in tests/api/test_files.py."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def station(manager: httpx.AsyncClient, supply: dict[str, Any]) -> str:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    return "/v1/stations/garage-1/logs"


async def test_one_that_is_not_connected_cannot_be_asked_and_that_is_kept(
    manager: httpx.AsyncClient, station: str
) -> None:
    assert (await manager.post(station, json={"kind": "security"})).status_code == 409
    (kept,) = (await manager.get(station)).json()["items"]
    assert (kept["kind"], kept["state"], kept["asked_by"]) == ("security", "refused", "key:manager")
    assert (await manager.get(f"{station}/{kept['id']}/file")).status_code == 404


async def test_what_is_wrong_is_named(manager: httpx.AsyncClient, station: str) -> None:
    times = {"from_at": "2026-11-02T10:00:00Z", "to_at": "2026-11-02T09:00:00Z"}
    refused = await manager.post(station, json=times)
    assert (refused.status_code, refused.json()["field"]) == (422, "to_at")
    assert (await manager.post("/v1/stations/moon/logs", json={})).status_code == 404
    assert (await manager.get(f"{station}/999/file")).status_code == 404
