"""Rights over REST."""

from typing import Any

import httpx
import pytest


async def test_a_right_is_given_once_and_taken(
    manager: httpx.AsyncClient, flat: dict[str, Any], supply: dict[str, Any]
) -> None:
    body = {"site_id": "weavers-yard", "member_id": "flat-12", "circuit_id": "main"}
    given = await manager.post("/v1/rights", json=body)
    right = given.json()
    assert given.status_code == 201
    assert right == body | {
        "id": right["id"],
        "group_id": None,
        "everyone": False,
        "station_id": None,
        "created_at": "2026-11-02T11:00:00Z",
    }
    assert (await manager.post("/v1/rights", json=body)).json() == right
    assert (await manager.get("/v1/rights?member=flat-12")).json() == {"items": [right], "next": None}
    assert (await manager.get(given.headers["location"])).json() == right
    assert (await manager.delete(given.headers["location"])).status_code == 204
    assert (await manager.get(given.headers["location"])).status_code == 404


async def test_everyone_has_to_be_said(manager: httpx.AsyncClient, yard: dict[str, Any]) -> None:
    refused = await manager.post("/v1/rights", json={"site_id": "weavers-yard"})
    assert (refused.status_code, refused.json()["field"]) == (422, "member_id")
    given = await manager.post("/v1/rights", json={"site_id": "weavers-yard", "everyone": True})
    assert given.json()["everyone"] is True


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"member_id": "nobody"}, "member_id"),
        ({"everyone": True}, "member_id"),
        ({"everyone": "yes"}, "everyone"),
        ({"circuit_id": "cellar"}, "circuit_id"),
        ({"station_id": "CP 404"}, "station_id"),
        ({"circuit_id": "main", "station_id": "CP 1"}, "station_id"),
        ({"site_id": "nowhere"}, "site_id"),
        ({"until": "2026-12-01T00:00:00Z"}, "until"),
    ],
)
async def test_a_wrong_right_is_refused_by_its_field(
    manager: httpx.AsyncClient,
    flat: dict[str, Any],
    supply: dict[str, Any],
    wrong: dict[str, Any],
    field: str,
) -> None:
    refused = await manager.post(
        "/v1/rights", json={"site_id": "weavers-yard", "member_id": "flat-12"} | wrong
    )
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert (await manager.get("/v1/rights")).json()["items"] == []
