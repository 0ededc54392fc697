"""Weavers' Yard: a site with its supply, a garage board and one flat."""

from typing import Any

import httpx
import pytest

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
