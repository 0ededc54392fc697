"""Alarms over REST."""

from typing import Any

import httpx
import pytest

from csms.alarms.signs import Begun
from csms.app import Central


@pytest.fixture
async def fault(central: Central, yard: dict[str, Any]) -> int:
    sign = Begun(
        kind="ground_fault", thing="garage-1/1", station_id="garage-1", evse=1, detail={"info": "dc"}
    )
    await central.alarms.apply([sign], site_id=yard["id"])
    return (await central.alarms.list()).items[0].id


async def test_an_alarm_is_read_taken_on_and_ended(manager: httpx.AsyncClient, fault: int) -> None:
    (shown,) = (await manager.get("/v1/alarms?site=weavers-yard&standing=true&lowest=urgent")).json()["items"]
    assert shown["kind"] == "ground_fault"
    assert shown["title"] == "Earth fault or residual current"
    assert "electrician" in shown["what_to_do"]
    assert shown["detail"] == {"info": "dc"}
    taken = await manager.post(f"/v1/alarms/{fault}/acknowledge", json={"note": "electrician called"})
    assert (taken.json()["state"], taken.json()["acknowledged_by"]) == ("acknowledged", "key:manager")
    again = await manager.post(f"/v1/alarms/{fault}/acknowledge", json={})
    assert again.status_code == 409
    over = await manager.post(f"/v1/alarms/{fault}/clear")
    assert (over.json()["state"], over.json()["cleared_by"]) == ("cleared", "key:manager")
    assert (await manager.get("/v1/alarms?standing=true")).json()["items"] == []
    assert (await manager.get(f"/v1/alarms/{fault}")).json() == over.json()


async def test_what_was_sent_is_shown(manager: httpx.AsyncClient, central: Central, yard: Any) -> None:
    made = await manager.post(
        "/v1/alarm-routes", json={"channel": "mail", "address": "board@weavers.example"}
    )
    assert made.status_code == 201
    await central.alarms.apply([Begun(kind="reader", thing="garage-1/1")], site_id=yard["id"])
    number = (await central.alarms.list()).items[0].id
    (sent,) = (await manager.get(f"/v1/alarms/{number}/deliveries")).json()["items"]
    assert (sent["address"], sent["occasion"], sent["state"]) == (
        "board@weavers.example",
        "raised",
        "waiting",
    )


async def test_what_is_wrong_is_named(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, fault: int
) -> None:
    refused = await manager.get("/v1/alarms?kind=flood")
    assert (refused.status_code, refused.json()["field"]) == (422, "kind")
    assert (await manager.get("/v1/alarms/999")).status_code == 404
    assert (await manager.get("/v1/alarms/999/deliveries")).status_code == 404
    assert (await reader.post(f"/v1/alarms/{fault}/clear")).status_code == 403
