"""Less power for some hours, asked for over REST."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock

CAP = {"cap_w": 4_200, "until": "2026-11-02T12:00:00Z", "reason": "grid operator"}
CAPS = "/v1/circuits/main/caps"


@pytest.fixture
async def shared(manager: httpx.AsyncClient, supply: dict[str, Any], central: Central) -> None:
    """The yard is active and its power is shared."""
    station = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main", "fallback_a": 6}
    await manager.post("/v1/stations", json=station)
    made = await manager.patch("/v1/sites/weavers-yard", json={"active": True})
    assert made.status_code == 200, made.text
    await central.power.start()


async def test_a_cap_is_kept_listed_shown_and_over_by_itself(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, shared: None, clock: ManualClock
) -> None:
    made = await manager.post(CAPS, json=CAP)
    assert made.status_code == 201, made.text
    cap = made.json()
    assert made.headers["Location"] == f"{CAPS}/{cap['id']}"
    assert (cap["since"], cap["until"], cap["active"]) == (
        "2026-11-02T11:00:00Z",
        "2026-11-02T12:00:00Z",
        True,
    )
    assert cap["created_by"]
    assert (await reader.get(CAPS)).json() == {"items": [cap], "next": None}
    (circuit,) = (await reader.get("/v1/sites/weavers-yard/power")).json()["circuits"]
    asked = {"cap_w": 4200.0, "until": "2026-11-02T12:00:00Z", "reason": "grid operator"}
    assert (circuit["cap_w"], circuit["asked"]) == (4200.0, asked)
    clock.advance(3600)
    (circuit,) = (await reader.get("/v1/sites/weavers-yard/power")).json()["circuits"]
    assert (circuit["cap_w"], circuit["asked"]) == (None, None)
    assert [each["active"] for each in (await reader.get(CAPS)).json()["items"]] == [False]


async def test_a_cap_is_taken_back(manager: httpx.AsyncClient, shared: None) -> None:
    cap = (await manager.post(CAPS, json=CAP | {"since": "2026-11-02T11:30:00Z"})).json()
    assert not cap["active"]
    assert (await manager.delete(f"{CAPS}/{cap['id']}")).status_code == 204
    (listed,) = (await manager.get(CAPS)).json()["items"]
    assert listed["withdrawn_at"] == "2026-11-02T11:00:00Z"
    assert (await manager.delete(f"{CAPS}/{cap['id'] + 1}")).status_code == 404


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"cap_w": -1}, "cap_w"),
        ({"cap_w": 4.2}, "cap_w"),
        ({"until": "tonight"}, "until"),
        ({"until": "2026-11-02T10:00:00Z"}, "until"),
        ({"since": "2026-11-02T13:00:00Z"}, "until"),
        ({"reason": ""}, "reason"),
        ({"limit_a": 6}, "limit_a"),
    ],
)
async def test_a_wrong_cap_is_refused_by_its_field(
    manager: httpx.AsyncClient, supply: dict[str, Any], wrong: dict[str, Any], field: str
) -> None:
    refused = await manager.post(CAPS, json=CAP | wrong)
    assert refused.status_code == 422
    told = refused.json()
    assert [each["field"] for each in told.get("errors", [told])] == [field]


async def test_who_may_only_read_asks_for_nothing(reader: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    assert (await reader.post(CAPS, json=CAP)).status_code == 403
    assert (await reader.get("/v1/circuits/attic/caps")).status_code == 404
