"""Self-tests over REST."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def station(manager: httpx.AsyncClient, supply: dict[str, Any]) -> str:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    return "/v1/stations/garage-1/self-tests"


async def test_a_test_is_written_down(manager: httpx.AsyncClient, station: str) -> None:
    none_yet = (await manager.get(station)).json()
    assert (none_yet["items"], none_yet["age_s"]) == ([], None)
    made = await manager.post(station, json={"passed": False, "detail": "did not trip"})
    assert (made.status_code, made.json()["source"], made.json()["written_by"]) == (
        201,
        "person",
        "key:manager",
    )
    shown = (await manager.get(station)).json()
    assert (shown["items"], shown["age_s"]) == ([made.json()], 0.0)
    assert shown["due_at"] > made.json()["at"]
    (alarm,) = (await manager.get("/v1/alarms?kind=self_test_failed")).json()["items"]
    assert alarm["detail"]["detail"] == "did not trip"


async def test_what_is_wrong_is_named(manager: httpx.AsyncClient, station: str) -> None:
    late = await manager.post(station, json={"passed": True, "at": "2030-01-01T00:00:00Z"})
    assert (late.status_code, late.json()["field"]) == (422, "at")
    assert (await manager.get("/v1/stations/moon/self-tests")).status_code == 404
    assert (await manager.post("/v1/stations/moon/self-tests", json={"passed": True})).status_code == 404
