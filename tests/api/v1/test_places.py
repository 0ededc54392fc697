"""A place for a charger that waits, over REST."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from tests.conftest import NOON


@pytest.fixture
async def waiting(central: Central, manager: httpx.AsyncClient, supply: dict[str, Any]) -> str:
    """A charger that has connected and that nobody knows; a planned place lets it in."""
    made = await manager.post(
        "/v1/stations",
        json={
            "id": "bay-9",
            "name": "Bay 9",
            "site_id": "weavers-yard",
            "circuit_id": "main",
            "expected_serial": "WY-9",
        },
    )
    assert made.json()["expected_serial"] == "WY-9"
    await central._sockets.connected("new-1", "ocpp2.0.1", NOON)
    return "new-1"


async def test_a_place_by_its_values(manager: httpx.AsyncClient, waiting: str) -> None:
    listed = (await manager.get("/v1/stations")).json()["items"]
    assert [(s["id"], s["registration"], s["site_id"]) for s in listed] == [
        ("bay-9", "accepted", "weavers-yard"),
        ("new-1", "pending", None),
    ]
    body = {"site_id": "weavers-yard", "circuit_id": "main", "wiring": ["L2", "L3", "L1"], "evses": 2}
    placed = await manager.post("/v1/stations/new-1/place", json=body)
    assert placed.status_code == 200, placed.text
    found = placed.json()
    assert (found["registration"], found["circuit_id"], found["wiring"]) == (
        "accepted",
        "main",
        ["L2", "L3", "L1"],
    )
    assert len((await manager.get("/v1/stations/new-1/evses")).json()["items"]) == 2
    again = await manager.post("/v1/stations/new-1/place", json=body)
    assert (again.status_code, again.json()["code"]) == (409, "conflict")


async def test_a_planned_place(manager: httpx.AsyncClient, waiting: str) -> None:
    placed = await manager.post("/v1/stations/new-1/place", json={"planned": "bay-9"})
    assert (placed.status_code, placed.json()["name"]) == (200, "Bay 9")
    assert (await manager.get("/v1/stations/bay-9")).status_code == 404


@pytest.mark.parametrize(
    ("body", "status", "field"),
    [
        ({}, 422, "circuit_id"),
        ({"planned": "bay-9", "evses": 2}, 422, "planned"),
        ({"planned": "nobody"}, 404, None),
        ({"site_id": "weavers-yard", "circuit_id": "cellar"}, 422, "circuit_id"),
    ],
)
async def test_what_is_no_place(
    manager: httpx.AsyncClient, waiting: str, body: dict[str, Any], status: int, field: str | None
) -> None:
    refused = await manager.post("/v1/stations/new-1/place", json=body)
    assert (refused.status_code, refused.json().get("field")) == (status, field)
    assert (await manager.get("/v1/stations/new-1")).json()["registration"] == "pending"
