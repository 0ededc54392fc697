"""Tokens over REST."""

from typing import Any

import httpx
import pytest


@pytest.fixture
async def card(manager: httpx.AsyncClient, flat: dict[str, Any]) -> dict[str, Any]:
    made = await manager.post(
        "/v1/tokens", json={"id": "card-1", "text": "04:A1:B2:C3", "member_id": "flat-12", "label": "Blue"}
    )
    assert made.status_code == 201, made.text
    assert made.headers["location"] == "/v1/tokens/card-1"
    found: dict[str, Any] = made.json()
    return found


async def test_a_card_is_kept_as_spelled_and_compared_folded(
    manager: httpx.AsyncClient, card: dict[str, Any]
) -> None:
    assert card == {
        "id": "card-1",
        "text": "04:A1:B2:C3",
        "folded": "04a1b2c3",
        "kind": "rfid",
        "member_id": "flat-12",
        "label": "Blue",
        "group_text": "",
        "valid_from": None,
        "valid_to": None,
        "blocked": False,
        "created_at": "2026-11-02T11:00:00Z",
    }
    for spelling in ("04A1B2C3", "04 a1 b2 c3"):
        found = await manager.get("/v1/tokens", params={"text": spelling})
        assert found.json() == {"items": [card], "next": None}
    twin = await manager.post("/v1/tokens", json={"text": "04a1b2c3", "member_id": "flat-12"})
    assert twin.status_code in (409, 422)


async def test_a_card_is_blocked_and_unblocked(manager: httpx.AsyncClient, card: dict[str, Any]) -> None:
    assert (await manager.post("/v1/tokens/card-1/block")).json() == card | {"blocked": True}
    assert (await manager.get("/v1/tokens/card-1")).json()["blocked"] is True
    assert (await manager.post("/v1/tokens/card-1/unblock")).json() == card
    assert (await manager.post("/v1/tokens/nothing/block")).status_code == 404


async def test_a_card_is_given_a_time_and_loses_it(manager: httpx.AsyncClient, card: dict[str, Any]) -> None:
    changed = await manager.patch(
        "/v1/tokens/card-1",
        json={"valid_from": "2026-11-02T12:00:00+01:00", "valid_to": "2026-12-01T00:00:00Z"},
    )
    assert changed.json() == card | {"valid_from": "2026-11-02T11:00:00Z", "valid_to": "2026-12-01T00:00:00Z"}
    changed = await manager.patch("/v1/tokens/card-1", json={"valid_from": None, "valid_to": None})
    assert changed.json() == card


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"valid_to": "2026-12-01T00:00:00"}, "valid_to"),
        ({"valid_to": "2026-12-01"}, "valid_to"),
        ({"valid_from": 1793577600}, "valid_from"),
        ({"member_id": "nobody"}, "member_id"),
        ({"member_id": None}, "member_id"),
        ({"text": "ABCDEF"}, "text"),
        ({"blocked": True}, "blocked"),
        ({"label": "x" * 121}, "label"),
    ],
)
async def test_a_wrong_value_is_refused_by_its_name(
    manager: httpx.AsyncClient, card: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    refused = await manager.patch("/v1/tokens/card-1", json=wrong)
    assert refused.status_code == 422
    assert [each["field"] for each in refused.json()["errors"]] == [field]
    assert (await manager.get("/v1/tokens/card-1")).json() == card


async def test_times_have_to_follow_each_other(manager: httpx.AsyncClient, card: dict[str, Any]) -> None:
    times = {"valid_from": "2026-12-01T00:00:00Z", "valid_to": "2026-11-01T00:00:00Z"}
    refused = await manager.patch("/v1/tokens/card-1", json=times)
    assert (refused.status_code, refused.json()["field"]) == (422, "valid_to")


async def test_a_kind_that_names_nobody_is_refused(manager: httpx.AsyncClient, flat: dict[str, Any]) -> None:
    for kind in ("none", "local", "tattoo"):
        refused = await manager.post(
            "/v1/tokens", json={"text": "04A1", "member_id": "flat-12", "kind": kind}
        )
        assert (refused.status_code, refused.json()["field"]) == (422, "kind")


async def test_a_card_that_was_never_used_goes(manager: httpx.AsyncClient, card: dict[str, Any]) -> None:
    assert (await manager.delete("/v1/tokens/card-1")).status_code == 204
    assert (await manager.get("/v1/tokens?member=flat-12")).json()["items"] == []
