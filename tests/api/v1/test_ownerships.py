"""/v1/ownerships"""

import httpx

from tests.csms.ledger.small_yard import SmallYard

MOVED = "2026-01-15T00:00:00+01:00"


async def test_a_bay_changes_hands(manager: httpx.AsyncClient, small: SmallYard) -> None:
    ended = await manager.post("/v1/ownerships/own-a/end", json={"at": MOVED})
    assert ended.json()["to_at"] == "2026-01-14T23:00:00Z"
    body = {"site_id": "yard", "member_id": "b", "station_id": "bay-a", "evse": 1, "from_at": MOVED}
    made = await manager.post("/v1/ownerships", json=body)
    assert made.status_code == 201, made.text
    found = await manager.get(made.headers["Location"])
    assert found.json() == made.json()
    assert found.json()["member_id"] == "b"
    page = await manager.get("/v1/ownerships", params={"station": "bay-a", "limit": 1})
    assert len(page.json()["items"]) == 1
    rest = await manager.get("/v1/ownerships", params={"station": "bay-a", "after": page.json()["next"]})
    assert len(rest.json()["items"]) == 1
    assert (await manager.delete(f"/v1/ownerships/{made.json()['id']}")).status_code == 204
    assert (await manager.get(made.headers["Location"])).status_code == 404


async def test_two_owners_at_a_time_are_refused_with_the_field(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, small: SmallYard
) -> None:
    body = {"site_id": "yard", "member_id": "b", "station_id": "bay-a"}
    refused = await manager.post("/v1/ownerships", json=body)
    assert (refused.status_code, refused.json()["field"]) == (422, "from_at")
    assert "space bay-a/1 belongs to a until further notice" in refused.json()["detail"]
    strict = await manager.post("/v1/ownerships", json=body | {"owner": "b"})
    assert (strict.status_code, strict.json()["field"]) == (422, "owner")
    assert (await reader.post("/v1/ownerships", json=body)).status_code == 403
