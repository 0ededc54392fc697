"""Members over REST."""

from typing import Any

import httpx
import pytest


async def test_a_member_is_made_changed_and_removed(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    assert flat == {
        "id": "flat-12",
        "site_id": "weavers-yard",
        "kind": "flat",
        "name": "Flat 12",
        "email": "",
        "active": True,
        "created_at": "2026-11-02T11:00:00Z",
    }
    changed = await manager.patch("/v1/members/flat-12", json={"active": False, "email": "12@example.org"})
    assert changed.json() == flat | {"active": False, "email": "12@example.org"}
    assert (await manager.get("/v1/members/flat-12")).json() == changed.json()
    assert (await manager.delete("/v1/members/flat-12")).status_code == 204
    assert (await manager.get("/v1/members/flat-12")).status_code == 404


async def test_lists_are_narrowed(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    made = await manager.post(
        "/v1/members", json={"site_id": "weavers-yard", "kind": "vehicle", "name": "Bread van 1"}
    )
    van = made.json()
    assert made.headers["location"] == f"/v1/members/{van['id']}"

    async def ids(query: str) -> list[str]:
        return [each["id"] for each in (await manager.get(f"/v1/members?{query}")).json()["items"]]

    assert await ids("kind=vehicle") == [van["id"]]
    assert await ids("kind=flat&site=weavers-yard&active=true") == ["flat-12"]
    assert await ids("active=false") == []
    assert await ids("site=elsewhere") == []


async def test_pages_walk_through_all_once(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    for number in range(5):
        await manager.post(
            "/v1/members", json={"id": f"flat-{number}", "site_id": yard["id"], "name": f"Flat {number}"}
        )
    first = (await manager.get("/v1/members?limit=3")).json()
    second = (await manager.get("/v1/members", params={"limit": 3, "after": first["next"]})).json()
    assert second["next"] is None
    assert [each["id"] for each in first["items"] + second["items"]] == [f"flat-{n}" for n in range(5)]
    other = await manager.get("/v1/groups", params={"after": first["next"]})
    assert (other.status_code, other.json()["field"]) == (422, "after")


async def test_a_name_is_used_once_on_a_site(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    again = await manager.post("/v1/members", json={"site_id": "weavers-yard", "name": "Flat 12"})
    assert again.status_code in (409, 422)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"site_id": "nowhere"}, "site_id"),
        ({"site_id": 5}, "site_id"),
        ({"kind": "dog"}, "kind"),
        ({"name": ""}, "name"),
        ({"email": "nobody"}, "email"),
        ({"active": True}, "active"),
        ({"id": "Flat 12!"}, "id"),
    ],
)
async def test_a_wrong_member_is_refused_by_its_field(
    manager: httpx.AsyncClient, yard: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    body = {"site_id": "weavers-yard", "name": "Flat 13"} | wrong
    refused = await manager.post("/v1/members", json=body)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]


async def test_who_has_a_token_stays(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    await manager.post("/v1/tokens", json={"text": "04A1B2C3", "member_id": "flat-12"})
    assert (await manager.delete("/v1/members/flat-12")).status_code == 409


async def test_the_groups_of_a_member(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    await manager.post("/v1/groups", json={"id": "residents", "site_id": "weavers-yard", "name": "Residents"})
    await manager.put("/v1/groups/residents/members/flat-12")
    groups = await manager.get("/v1/members/flat-12/groups")
    assert groups.json() == {"items": [{"id": "residents", "name": "Residents"}]}
    assert (await manager.get("/v1/members/nobody/groups")).status_code == 404


async def test_what_is_not_there_is_not_found(manager: httpx.AsyncClient) -> None:
    assert (await manager.patch("/v1/members/nobody", json={})).status_code == 404
    assert (await manager.delete("/v1/members/nobody")).status_code == 404
