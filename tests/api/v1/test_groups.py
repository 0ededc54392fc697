"""Groups and who is in them over REST."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def residents(manager: httpx.AsyncClient, yard: dict[str, Any]) -> dict[str, Any]:
    made = await manager.post(
        "/v1/groups", json={"id": "residents", "site_id": yard["id"], "name": "Residents", "weight": 2}
    )
    assert made.status_code == 201, made.text
    assert made.headers["location"] == "/v1/groups/residents"
    found: dict[str, Any] = made.json()
    return found


async def test_a_group_is_made_changed_and_removed(
    manager: httpx.AsyncClient, residents: dict[str, Any]
) -> None:
    assert residents == {
        "id": "residents",
        "site_id": "weavers-yard",
        "name": "Residents",
        "priority": 0,
        "weight": 2.0,
        "created_at": "2026-11-02T11:00:00Z",
    }
    changed = await manager.patch("/v1/groups/residents", json={"priority": 3})
    assert changed.json() == residents | {"priority": 3}
    assert (await manager.get("/v1/groups?site=weavers-yard")).json() == {
        "items": [changed.json()],
        "next": None,
    }
    assert (await manager.delete("/v1/groups/residents")).status_code == 204
    assert (await manager.get("/v1/groups/residents")).status_code == 404


async def test_members_are_put_in_and_taken_out(
    manager: httpx.AsyncClient, residents: dict[str, Any], flat: dict[str, Any]
) -> None:
    for _ in range(2):
        assert (await manager.put("/v1/groups/residents/members/flat-12")).status_code == 204
    assert (await manager.get("/v1/groups/residents/members")).json() == {"items": ["flat-12"], "next": None}
    assert (await manager.delete("/v1/groups/residents/members/flat-12")).status_code == 204
    assert (await manager.delete("/v1/groups/residents/members/flat-12")).status_code == 404
    assert (await manager.get("/v1/groups/residents/members")).json()["items"] == []


async def test_a_member_of_another_site_is_refused(
    manager: httpx.AsyncClient, residents: dict[str, Any]
) -> None:
    mill = {"id": "mill", "name": "Mill", "time_zone": "Europe/Paris", "currency": "EUR", "system": "TN-400"}
    await manager.post("/v1/sites", json=mill)
    await manager.post("/v1/members", json={"id": "miller", "site_id": "mill", "name": "The miller"})
    refused = await manager.put("/v1/groups/residents/members/miller")
    assert (refused.status_code, refused.json()["field"]) == (422, "member_id")
    assert (await manager.put("/v1/groups/residents/members/nobody")).status_code == 404
    assert (await manager.put("/v1/groups/nobody/members/miller")).status_code == 404


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"priority": 10}, "priority"),
        ({"priority": 1.5}, "priority"),
        ({"weight": 0}, "weight"),
        ({"weight": "2"}, "weight"),
        ({"weight": None}, "weight"),
        ({"name": None}, "name"),
        ({"members": []}, "members"),
    ],
)
async def test_a_wrong_value_is_refused_by_its_name(
    manager: httpx.AsyncClient, residents: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    refused = await manager.patch("/v1/groups/residents", json=wrong)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]


async def test_a_reader_puts_nobody_in(
    reader: httpx.AsyncClient, residents: dict[str, Any], flat: dict[str, Any]
) -> None:
    assert (await reader.put("/v1/groups/residents/members/flat-12")).status_code == 403
    assert (await reader.get("/v1/groups/residents/members")).json()["items"] == []
