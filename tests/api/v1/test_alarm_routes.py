"""Who is told, over REST."""

from typing import Any

import httpx


async def test_a_route_is_made_changed_and_removed(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    body = {"channel": "webhook", "address": "https://weavers.example/alarms", "site_id": yard["id"]}
    made = await manager.post("/v1/alarm-routes", json=body | {"lowest": "urgent", "after_s": 600})
    assert made.status_code == 201, made.text
    route = made.json()
    assert route["secret"].startswith("whsec_")
    shown = (await manager.get(made.headers["location"])).json()
    assert shown == {name: value for name, value in route.items() if name != "secret"}, "shown once only"
    changed = await manager.patch(made.headers["location"], json={"active": False})
    assert changed.json() == shown | {"active": False}
    assert (await manager.get("/v1/alarm-routes?site=weavers-yard")).json()["items"] == [changed.json()]
    assert (await manager.delete(made.headers["location"])).status_code == 204
    assert (await manager.get(made.headers["location"])).status_code == 404


async def test_what_is_wrong_is_named(manager: httpx.AsyncClient) -> None:
    for body, field in (
        ({"channel": "mail", "address": "board"}, "address"),
        ({"channel": "webhook", "address": "ftp://weavers.example"}, "address"),
        ({"channel": "mail", "address": "board@weavers.example", "site_id": "moon"}, "site_id"),
        ({"channel": "pigeon", "address": "board@weavers.example"}, "channel"),
        ({"channel": "mail", "address": "board@weavers.example", "after_s": -1}, "after_s"),
    ):
        refused = await manager.post("/v1/alarm-routes", json=body)
        assert (refused.status_code, refused.json()["field"]) == (422, field)
