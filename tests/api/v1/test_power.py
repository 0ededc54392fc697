"""The live supply over REST, and what meters push."""

from typing import Any

import httpx
import pytest


async def test_the_picture_tells_currents_limits_and_reasons(
    reader: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    told = (await reader.get("/v1/sites/weavers-yard/power")).json()
    assert told == {
        "site_id": "weavers-yard",
        "at": "2026-11-02T11:00:00Z",
        "complete": False,
        "circuits": [
            {
                "id": "main",
                "limit_a": {"L1": 63.0, "L2": 63.0, "L3": 63.0},
                "base_a": {"L1": 30.0, "L2": 30.0, "L3": 30.0},
                "drawn_a": {"L1": 0.0, "L2": 0.0, "L3": 0.0},
                "promised_a": told["circuits"][0]["promised_a"],
                "meter_fresh": False,
            }
        ],
        "bays": told["bays"],
    }
    (bay,) = told["bays"]
    assert (bay["station_id"], bay["evse"], bay["state"]) == ("garage-1", 1, "unreachable")
    assert bay["offer_a"] is None
    # What we cannot reach may draw its fallback, and the picture counts with it.
    assert set(told["circuits"][0]["promised_a"].values()) == {6.0}


async def test_a_site_without_power_says_so(manager: httpx.AsyncClient) -> None:
    mill = {"id": "mill", "name": "Mill", "time_zone": "Europe/Paris", "currency": "EUR", "system": "TN-400"}
    await manager.post("/v1/sites", json=mill)
    assert (await manager.get("/v1/sites/mill/power")).status_code == 409
    assert (await manager.get("/v1/sites/nowhere/power")).status_code == 404


async def test_a_meter_pushes_what_it_measured(
    manager: httpx.AsyncClient, supply: dict[str, Any], central: Any
) -> None:
    at = "2026-11-02T10:59:58Z"
    pushed = await manager.post(
        "/v1/circuits/main/readings", json={"current_a": {"L1": 21.5, "L3": -3}, "at": at}
    )
    assert (pushed.status_code, pushed.content) == (202, b"null")
    ((circuit_id, line_a, measured_at),) = central.power.pushed
    assert (circuit_id, line_a) == ("main", {"L1": 21.5, "L3": -3.0})
    assert measured_at.isoformat() == "2026-11-02T10:59:58+00:00"


async def test_a_meter_of_tomorrow_counts_from_now(
    manager: httpx.AsyncClient, supply: dict[str, Any], central: Any
) -> None:
    body = {"current_a": {"L1": 1}, "at": "2026-11-03T11:00:00Z"}
    await manager.post("/v1/circuits/main/readings", json=body)
    assert central.power.pushed[0][2] == central.clock.now()


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "current_a"),
        ({"current_a": {}}, "current_a"),
        ({"current_a": 21}, "current_a"),
        ({"current_a": {"L1": "21"}}, "current_a.L1"),
        ({"current_a": {"L1": None}}, "current_a.L1"),
        ({"current_a": {"L1": 1e9}}, "current_a.L1"),
        ({"current_a": {"L1": 1}, "at": "now"}, "at"),
        ({"current_a": {"L1": 1}, "power_w": 4000}, "power_w"),
    ],
)
async def test_a_wrong_reading_is_refused_by_its_field(
    manager: httpx.AsyncClient, supply: dict[str, Any], central: Any, body: dict[str, Any], field: str
) -> None:
    refused = await manager.post("/v1/circuits/main/readings", json=body)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert central.power.pushed == []


async def test_a_line_or_meter_that_is_not_there_is_refused(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    board = {"id": "board", "site_id": "weavers-yard", "name": "Board", "fed_from": "main"}
    await manager.post("/v1/circuits", json=board | {"limit_a": {"L1": 40}})
    reading = {"current_a": {"L2": 1}}
    assert (await manager.post("/v1/circuits/board/readings", json=reading)).status_code == 409
    await manager.patch("/v1/circuits/board", json={"meter": {"counts": "base", "period_s": 5}})
    refused = await manager.post("/v1/circuits/board/readings", json=reading)
    assert (refused.status_code, refused.json()["field"]) == (422, "current_a.L2")
    assert (await manager.post("/v1/circuits/nowhere/readings", json=reading)).status_code == 404
