"""/v1/supply-registers"""

import httpx

from tests.csms.ledger.small_yard import SmallYard

READING = {
    "id": "r1",
    "site_id": "yard",
    "serial": "EV-1",
    "at": "2026-01-01T00:00:00+01:00",
    "register_wh": 5,
}


async def test_readings_of_the_main_meter(manager: httpx.AsyncClient, small: SmallYard) -> None:
    made = await manager.post("/v1/supply-registers", json=READING)
    assert made.status_code == 201, made.text
    assert (await manager.get("/v1/supply-registers/r1")).json() == made.json()
    assert (await manager.get("/v1/supply-registers", params={"site": "yard"})).json()["items"] == [
        made.json()
    ]
    later = READING | {"id": "r2", "at": "2026-01-02T00:00:00+01:00", "register_wh": 4}
    refused = await manager.post("/v1/supply-registers", json=later)
    assert (refused.status_code, refused.json()["field"]) == (422, "register_wh")
    assert "does not run backwards" in refused.json()["detail"]
    assert (await manager.delete("/v1/supply-registers/r1")).status_code == 204
    assert (await manager.get("/v1/supply-registers/r1")).status_code == 404
