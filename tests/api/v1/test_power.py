"""The live supply over REST, and what meters push."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock


@pytest.fixture
async def shared(manager: httpx.AsyncClient, supply: dict[str, Any], central: Central) -> None:
    """The yard is active and its power is shared."""
    station = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    await manager.post("/v1/stations", json=station)
    made = await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    assert made.status_code == 200, made.text
    await central.power.start()


async def test_the_picture_tells_currents_limits_and_reasons(reader: httpx.AsyncClient, shared: None) -> None:
    told = (await reader.get("/v1/sites/weavers-yard/power")).json()
    assert told == {
        "site_id": "weavers-yard",
        "at": "2026-11-02T11:00:00Z",
        "complete": told["complete"],
        "circuits": [
            {
                "id": "main",
                "limit_a": {"L1": 63.0, "L2": 63.0, "L3": 63.0},
                "base_a": {"L1": 30.0, "L2": 30.0, "L3": 30.0},
                "drawn_a": {"L1": 0.0, "L2": 0.0, "L3": 0.0},
                # What we cannot reach may draw its fallback, and the picture counts with it.
                "promised_a": {"L1": 6.0, "L2": 6.0, "L3": 6.0},
                "meter_fresh": False,
                "cap_w": None,
                "asked": None,
            }
        ],
        "bays": told["bays"],
    }
    (bay,) = told["bays"]
    assert (bay["station_id"], bay["evse"], bay["state"]) == ("garage-1", 1, "unreachable")
    assert (bay["offer_a"], bay["lines"]) == (None, ["L1", "L2", "L3"])


async def test_a_site_without_power_says_so(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    assert (await manager.get("/v1/sites/weavers-yard/power")).status_code == 409
    assert (await manager.get("/v1/sites/nowhere/power")).status_code == 404


async def test_a_meter_pushes_what_it_measured(manager: httpx.AsyncClient, shared: None) -> None:
    at = "2026-11-02T10:59:58Z"
    pushed = await manager.post(
        "/v1/circuits/main/readings", json={"current_a": {"L1": 21.5, "L2": 12, "L3": 3}, "at": at}
    )
    assert (pushed.status_code, pushed.content) == (202, b"null")
    told = (await manager.get("/v1/sites/weavers-yard/power")).json()["circuits"][0]
    assert (told["meter_fresh"], told["base_a"]) == (True, {"L1": 21.5, "L2": 12.0, "L3": 3.0})


async def test_a_reading_of_long_ago_is_not_fresh(manager: httpx.AsyncClient, shared: None) -> None:
    body = {"current_a": {"L1": 1, "L2": 1, "L3": 1}, "at": "2026-11-02T10:00:00Z"}
    await manager.post("/v1/circuits/main/readings", json=body)
    told = (await manager.get("/v1/sites/weavers-yard/power")).json()["circuits"][0]
    assert (told["meter_fresh"], told["base_a"]["L1"]) == (False, 30.0)


async def test_a_meter_of_tomorrow_counts_from_now(
    manager: httpx.AsyncClient, shared: None, clock: ManualClock
) -> None:
    body = {"current_a": {"L1": 1, "L2": 1, "L3": 1}, "at": "2026-11-03T11:00:00Z"}
    await manager.post("/v1/circuits/main/readings", json=body)
    fresh = []
    for _ in range(2):
        told = (await manager.get("/v1/sites/weavers-yard/power")).json()["circuits"][0]
        fresh.append(told["meter_fresh"])
        # Three periods of 10 s, at least 30 s: then it is silent.
        clock.advance(31)
    assert fresh == [True, False]


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
    manager: httpx.AsyncClient, supply: dict[str, Any], body: dict[str, Any], field: str
) -> None:
    refused = await manager.post("/v1/circuits/main/readings", json=body)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]


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
