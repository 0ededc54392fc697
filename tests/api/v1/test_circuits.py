"""Circuits over REST."""

from typing import Any

import httpx
import pytest


def board(**more: Any) -> dict[str, Any]:
    return {
        "id": "board",
        "site_id": "weavers-yard",
        "name": "Board A",
        "fed_from": "main",
        "limit_a": 40,
    } | more


async def test_a_tree_is_built_from_the_supply_down(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    assert supply["limit_a"] == {"L1": 63.0, "L2": 63.0, "L3": 63.0}
    assert supply["meter"] == {"counts": "base", "period_s": 10.0, "input": None}
    made = await manager.post("/v1/circuits", json=board(limit_a={"L1": 40, "L2": 40.5}))
    assert made.status_code == 201
    assert made.json()["limit_a"] == {"L1": 40.0, "L2": 40.5, "L3": 0.0}
    assert (await manager.get(made.headers["location"])).json() == made.json()
    page = (await manager.get("/v1/circuits?site=weavers-yard")).json()
    assert [circuit["id"] for circuit in page["items"]] == ["board", "main"]
    first = (await manager.get("/v1/circuits?site=weavers-yard&limit=1")).json()
    second = await manager.get("/v1/circuits", params={"site": "weavers-yard", "after": first["next"]})
    assert first["items"] + second.json()["items"] == page["items"]


async def test_only_what_is_given_changes(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    changed = await manager.patch("/v1/circuits/main", json={"cap_w": 43_000, "meter": None})
    assert changed.json() == supply | {"cap_w": 43_000, "meter": None}
    changed = await manager.patch("/v1/circuits/main", json={"meter": {"counts": "total", "period_s": 5}})
    assert changed.json()["meter"] == {"counts": "total", "period_s": 5.0, "input": None}


async def test_caps_by_the_hour(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    assert supply["cap_windows"] == []
    evening = {"start": "17:00", "end": "20:30", "cap_w": 20_000}
    changed = await manager.patch("/v1/circuits/main", json={"cap_windows": [evening]})
    assert changed.json() == supply | {"cap_windows": [evening]}
    made = await manager.post("/v1/circuits", json=board(cap_windows=[evening]))
    assert (await manager.get(made.headers["location"])).json()["cap_windows"] == [evening]
    refused = await manager.patch("/v1/circuits/main", json={"cap_windows": [evening | {"end": "24:00"}]})
    assert refused.json()["errors"][0]["field"] == "cap_windows.0.end"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"limit_a": -1}, "limit_a"),
        ({"limit_a": {"L1": -1}}, "limit_a"),
        ({"limit_a": {"L4": 1}}, "limit_a"),
        ({"limit_a": 0}, "limit_a"),
        ({"limit_a": "63"}, "limit_a"),
        ({"limit_a": None}, "limit_a"),
        ({"device_a": 20}, "limit_a.L1"),
        ({"fed_from": "cellar"}, "fed_from"),
        ({"fed_from": None}, "fed_from"),
        ({"meter": {"counts": "gas", "period_s": 1}}, "meter.counts"),
        ({"meter": {"counts": "base", "period_s": 0}}, "meter.period_s"),
        ({"meter": {"counts": "base", "period_s": 1, "unit": "kA"}}, "meter.unit"),
        ({"colour": "red"}, "colour"),
    ],
)
async def test_a_wrong_circuit_is_refused_by_its_field(
    manager: httpx.AsyncClient, supply: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    refused = await manager.post("/v1/circuits", json=board(**wrong))
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert (await manager.get("/v1/circuits/board")).status_code == 404


async def test_a_loop_is_refused(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    await manager.post("/v1/circuits", json=board())
    refused = await manager.patch("/v1/circuits/board", json={"fed_from": "board"})
    assert (refused.status_code, refused.json()["field"]) == (422, "fed_from")


async def test_a_circuit_goes_when_nothing_hangs_on_it(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    await manager.post("/v1/circuits", json=board())
    assert (await manager.delete("/v1/circuits/main")).status_code == 409
    gone = await manager.delete("/v1/circuits/board")
    assert (gone.status_code, gone.content) == (204, b"")
    assert (await manager.delete("/v1/circuits/board")).status_code == 404


async def test_the_site_has_to_be_said_and_known(manager: httpx.AsyncClient) -> None:
    assert (await manager.get("/v1/circuits")).json()["field"] == "site"
    assert (await manager.get("/v1/circuits?site=nowhere")).status_code == 404
    assert (await manager.post("/v1/circuits", json=board(site_id="nowhere"))).status_code == 404
