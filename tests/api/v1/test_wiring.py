"""The wiring check over REST."""

from typing import Any

import httpx

from csms.app import Central

RESULT = {
    "at": "2026-11-02T11:06:00+00:00",
    "circuit_id": "main",
    "verdict": "differs",
    "confidence": 0.97,
    "why": "the station's L1 moves L2, configured is L1",
    "lines": [
        {
            "station_line": "L1",
            "configured": "L1",
            "found": "L2",
            "gains": {"L1": 0.01, "L2": 0.98, "L3": 0.0},
            "steps": 5,
        }
    ],
}


async def test_what_it_came_to_is_shown(
    central: Central, manager: httpx.AsyncClient, reader: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    place = {"site_id": "weavers-yard", "circuit_id": "main"}
    await manager.post("/v1/stations", json={"id": "bay-1"} | place)
    never = await reader.get("/v1/stations/bay-1/wiring-check")
    assert never.json() == {"station_id": "bay-1", "running": False, "result": None}
    refused = await manager.post("/v1/stations/bay-1/wiring-check")
    assert (refused.status_code, refused.json()["detail"]) == (
        409,
        "site weavers-yard is not active: no car can be stepped there",
    )
    await central.stations.keep_wiring_check("bay-1", dict(RESULT))
    shown = (await reader.get("/v1/stations/bay-1/wiring-check")).json()
    assert shown["result"] == RESULT | {"at": "2026-11-02T11:06:00Z"}
    assert (await reader.post("/v1/stations/bay-1/wiring-check")).status_code == 403
    assert (await reader.get("/v1/stations/nobody/wiring-check")).status_code == 404
