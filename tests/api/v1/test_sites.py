"""Sites over REST."""

from typing import Any

import httpx
import pytest


async def test_a_site_is_made_read_and_changed(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, yard: dict[str, Any]
) -> None:
    assert yard == {
        "id": "weavers-yard",
        "name": "Weavers' Yard",
        "time_zone": "Europe/Oslo",
        "currency": "NOK",
        "system": "TN-400",
        "active": False,
        "created_at": "2026-11-02T11:00:00Z",
        "strategy": "weighted",
        "fairness": "amperes",
    }
    assert (await reader.get("/v1/sites/weavers-yard")).json() == yard
    changed = await manager.patch("/v1/sites/weavers-yard", json={"name": "The Weavers' Yard"})
    assert changed.json() == yard | {"name": "The Weavers' Yard"}


async def test_how_it_is_shared_can_be_chosen(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    assert yard["strategy"] == "weighted"
    chosen = {"strategy": "first_come", "fairness": "kilowatts"}
    changed = await manager.patch("/v1/sites/weavers-yard", json=chosen)
    assert changed.json() == yard | chosen
    refused = await manager.patch("/v1/sites/weavers-yard", json={"strategy": "loudest"})
    assert refused.status_code == 422
    assert refused.json()["field"] == "strategy"
    assert (await manager.get("/v1/sites/weavers-yard")).json() == yard | chosen


async def test_its_location_leads_to_it(manager: httpx.AsyncClient) -> None:
    made = await manager.post(
        "/v1/sites",
        json={"name": "Mill", "time_zone": "Europe/Paris", "currency": "EUR", "system": "IT-230"},
    )
    assert made.status_code == 201
    assert made.headers["location"] == f"/v1/sites/{made.json()['id']}"
    assert (await manager.get(made.headers["location"])).json() == made.json()


async def test_the_same_id_twice_is_a_conflict(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    again = {key: yard[key] for key in ("id", "name", "time_zone", "currency", "system")}
    refused = await manager.post("/v1/sites", json=again)
    assert (refused.status_code, refused.json()["code"]) == (409, "conflict")


async def test_pages_walk_through_all_once(manager: httpx.AsyncClient) -> None:
    for number in range(7):
        body = {"id": f"mill-{number}", "name": f"Mill {number}", "time_zone": "Europe/Paris"}
        await manager.post("/v1/sites", json=body | {"currency": "EUR", "system": "TT-400"})
    seen, after = [], None
    for _ in range(10):
        page = (
            await manager.get("/v1/sites", params={"limit": 3} | ({"after": after} if after else {}))
        ).json()
        assert len(page["items"]) <= 3
        seen += [site["id"] for site in page["items"]]
        after = page["next"]
        if after is None:
            break
    assert seen == [f"mill-{number}" for number in range(7)]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"currency": "XXX"}, "currency"),
        ({"system": "TN-480"}, "system"),
        ({"system": None}, "system"),
        ({"name": " "}, "name"),
        ({"name": None}, "name"),
        ({"name": 5}, "name"),
        ({"active": 1}, "active"),
        ({"created_at": "2026-11-02T11:00:00Z"}, "created_at"),
    ],
)
async def test_a_wrong_value_is_refused_by_its_name(
    manager: httpx.AsyncClient, yard: dict[str, Any], change: dict[str, Any], field: str
) -> None:
    refused = await manager.patch("/v1/sites/weavers-yard", json=change)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert (await manager.get("/v1/sites/weavers-yard")).json() == yard


@pytest.mark.parametrize("query", ["limit=0", "limit=501", "limit=many", "after=mill-3", "after="])
async def test_a_page_that_cannot_be_is_refused(manager: httpx.AsyncClient, query: str) -> None:
    refused = await manager.get(f"/v1/sites?{query}")
    assert refused.status_code == 422
    assert refused.json()["field"] == query.split("=")[0]


async def test_what_is_not_there_is_not_found(manager: httpx.AsyncClient) -> None:
    assert (await manager.get("/v1/sites/nowhere")).status_code == 404
    assert (await manager.patch("/v1/sites/nowhere", json={"name": "x"})).status_code == 404
    assert (await manager.get("/v1/sites/%00")).status_code == 422


async def test_a_reader_changes_nothing(reader: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    assert (await reader.patch("/v1/sites/weavers-yard", json={"name": "Mine"})).status_code == 403
    assert (await reader.get("/v1/sites/weavers-yard")).json() == yard


async def test_a_site_is_made_active_only_when_it_is_safe_in_silence(
    manager: httpx.AsyncClient, supply: dict[str, Any]
) -> None:
    place = {"site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 16}
    for number in range(2):
        await manager.post("/v1/stations", json={"id": f"garage-{number}"} | place)
    assert (await manager.patch("/v1/sites/weavers-yard", json={"active": True})).json()["active"] is True
    await manager.patch("/v1/sites/weavers-yard", json={"active": False})
    # 30 A of the building and 3 x 16 A of stations that hear nothing are 78 A on a 63 A fuse.
    await manager.post("/v1/stations", json={"id": "garage-2"} | place)
    refused = await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    assert (refused.status_code, refused.json()["code"]) == (409, "conflict")
    assert "main" in refused.json()["detail"]
    assert (await manager.get("/v1/sites/weavers-yard")).json()["active"] is False
