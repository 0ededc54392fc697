"""Quirks of models and manners of stations, over REST."""

from typing import Any

import httpx

QUIRK = {
    "vendor": "Weir",
    "model": "Lade",
    "firmware": "1.",
    "energy_factor": 1000.0,
    "note": "kWh told as Wh",
}


async def test_a_quirk_is_added_listed_and_dropped(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    made = await manager.post("/v1/station-quirks", json=QUIRK)
    assert made.status_code == 201
    others = {"power_factor": 1.0, "current_factor": 1.0, "zone": "", "false_z": False}
    assert made.json() == {"id": made.json()["id"], **QUIRK, **others}
    assert (await manager.get("/v1/station-quirks")).json()["items"] == [made.json()]
    url = f"/v1/station-quirks/{made.json()['id']}"
    assert (await manager.delete(url)).status_code == 204
    assert (await manager.delete(url)).status_code == 404
    refused = await manager.post("/v1/station-quirks", json={"vendor": "Weir"})
    assert (refused.status_code, refused.json()["field"]) == (422, "energy_factor")


async def test_a_station_is_set_to_be_taken_for_1_6(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    url = "/v1/stations/garage-1/manners"
    assert (await manager.get(url)).json() == {"assume_16": False}
    assert (await manager.put(url, json={"assume_16": True})).json() == {"assume_16": True}
    assert (await manager.get(url)).json() == {"assume_16": True}
    assert (await manager.get("/v1/stations/nobody/manners")).status_code == 404
    assert (await manager.put("/v1/stations/nobody/manners", json={"assume_16": True})).status_code == 404
