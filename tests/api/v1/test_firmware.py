"""Images and campaigns over REST; a whole roll-out is in tests/scenarios/test_firmware.py."""

import hashlib
from typing import Any

import httpx
import pytest

IMAGE = b"warp" * 500_000
"""Larger than any other body may be."""


@pytest.fixture
async def image(manager: httpx.AsyncClient, supply: dict[str, Any]) -> str:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    made = await manager.post("/v1/firmware-images", json={"id": "warp-2", "version": "2.0"})
    assert made.status_code == 201, made.text
    headers = {"X-SHA256": hashlib.sha256(IMAGE).hexdigest()}
    put = await manager.put("/v1/firmware-images/warp-2/file", content=IMAGE, headers=headers)
    assert (put.status_code, put.json()["size_bytes"]) == (200, len(IMAGE)), put.text
    return "warp-2"


async def test_a_campaign_is_made_started_paused_and_cancelled(
    manager: httpx.AsyncClient, image: str
) -> None:
    body = {
        "id": "warp",
        "site_id": "weavers-yard",
        "image_id": image,
        "from_local": "01:00",
        "to_local": "05:00",
    }
    made = await manager.post("/v1/firmware-campaigns", json=body)
    assert made.status_code == 201, made.text
    assert (made.json()["state"], made.json()["from_local"]) == ("ready", "01:00")
    address = made.headers["location"]
    shown = (await manager.get(address)).json()
    assert shown["counts"] == {"waiting": 1}
    assert [(each["station_id"], each["canary"]) for each in shown["updates"]] == [("garage-1", True)]
    for step, state in (
        ("start", "running"),
        ("pause", "paused"),
        ("start", "running"),
        ("cancel", "cancelled"),
    ):
        assert (await manager.post(f"{address}/{step}")).json()["state"] == state
    assert (await manager.post(f"{address}/start")).status_code == 409
    assert [each["id"] for each in (await manager.get("/v1/firmware-campaigns")).json()["items"]] == ["warp"]
    assert (await manager.delete(f"/v1/firmware-images/{image}")).status_code == 409


async def test_an_image_without_a_file_is_removed(manager: httpx.AsyncClient) -> None:
    made = await manager.post("/v1/firmware-images", json={"version": "3.0"})
    assert (await manager.delete(made.headers["location"])).status_code == 204
    assert (await manager.get("/v1/firmware-images")).json()["items"] == []


async def test_what_is_wrong_is_named(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, image: str
) -> None:
    for body, field in (
        ({"site_id": "weavers-yard", "image_id": image, "from_local": "25:00"}, "from_local"),
        ({"site_id": "weavers-yard", "image_id": image, "most_failed": 1}, "most_failed"),
        ({"site_id": "weavers-yard", "image_id": image, "station_ids": ["moon"]}, "station_ids"),
    ):
        refused = await manager.post("/v1/firmware-campaigns", json=body)
        assert (refused.status_code, refused.json()["field"]) == (422, field), refused.text
    other = await manager.post("/v1/firmware-images", json={"version": "3.0"})
    bad = await manager.put(f"{other.headers['location']}/file", content=b"x", headers={"X-SHA256": "0" * 64})
    assert (bad.status_code, bad.json()["field"]) == (422, "sha256")
    assert (await reader.put(f"{other.headers['location']}/file", content=b"x")).status_code == 403
    assert (await manager.get("/v1/firmware-images/moon")).status_code == 404
