"""What a station told, over REST."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.stations.words.firmware import FirmwareReported
from csms.stations.words.security import SecurityEventReported

URL = "/v1/stations/garage-1/reports"


@pytest.fixture(autouse=True)
async def told(manager: httpx.AsyncClient, central: Central, yard: dict[str, Any]) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    now = central.clock.now()
    for word in (
        FirmwareReported("downloading", 7),
        FirmwareReported("installed", 7),
        SecurityEventReported("TamperDetectionActivated", now, "lid"),
    ):
        await central.dispatcher.ask("garage-1", word, now)


async def test_the_latest_first_of_one_kind_or_of_all(reader: httpx.AsyncClient) -> None:
    everything = (await reader.get(URL)).json()["items"]
    assert [item["kind"] for item in everything] == ["security_event", "firmware", "firmware"]
    assert everything[0] == {
        "id": everything[0]["id"],
        "kind": "security_event",
        "at": "2026-11-02T11:00:00Z",
        "evse": None,
        "request_id": None,
        "body": {"kind": "TamperDetectionActivated", "at": "2026-11-02T11:00:00+00:00", "info": "lid"},
    }
    page = (await reader.get(URL, params={"kind": "firmware", "limit": 1})).json()
    assert [item["body"]["state"] for item in page["items"]] == ["installed"]
    rest = (await reader.get(URL, params={"kind": "firmware", "after": page["next"]})).json()
    assert [item["body"]["state"] for item in rest["items"]] == ["downloading"]
    assert (await reader.get(URL, params={"request_id": 8})).json()["items"] == []


async def test_wrong_kinds_and_stations(reader: httpx.AsyncClient, stranger: httpx.AsyncClient) -> None:
    refused = await reader.get(URL, params={"kind": "gossip"})
    assert (refused.status_code, refused.json()["field"]) == (422, "kind")
    assert (await reader.get("/v1/stations/nothing/reports")).status_code == 404
    assert (await stranger.get(URL)).status_code == 401
