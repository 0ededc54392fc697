"""Unknown cards over REST: enrol by holding a card to a charger."""

from typing import Any

import httpx

from csms.access.verdict.service import Judge
from csms.stations.model import TokenRef, Verdict


async def hold(central: Any, text: str) -> Verdict:
    """Hold a card to bay 1."""
    answer = await Judge(central.database).answer("garage-1", TokenRef(text), 1, central.clock.now())
    return answer.verdict


async def test_a_card_held_to_a_charger_is_adopted(
    manager: httpx.AsyncClient, supply: dict[str, Any], flat: dict[str, Any], central: Any
) -> None:
    await manager.post(
        "/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main"}
    )
    await manager.post("/v1/rights", json={"site_id": "weavers-yard", "member_id": "flat-12"})
    assert await hold(central, "04:A1:B2:C3") is Verdict.UNKNOWN
    listed = (await manager.get("/v1/unknown-cards?site=weavers-yard")).json()
    assert listed == {
        "items": [
            {
                "text": "04:A1:B2:C3",
                "folded": "04a1b2c3",
                "kind": "rfid",
                "station_id": "garage-1",
                "evse": 1,
                "first_seen_at": "2026-11-02T11:00:00Z",
                "last_seen_at": "2026-11-02T11:00:00Z",
                "times": 1,
            }
        ],
        "next": None,
    }
    refused = await manager.post("/v1/unknown-cards/04a1b2c3/adopt", json={"member_id": "nobody"})
    assert (refused.status_code, refused.json()["field"]) == (422, "member_id")
    adopted = await manager.post(
        "/v1/unknown-cards/04a1b2c3/adopt", json={"member_id": "flat-12", "label": "Blue"}
    )
    assert adopted.status_code == 201
    assert (await manager.get(adopted.headers["location"])).json() == adopted.json()
    assert (adopted.json()["text"], adopted.json()["label"]) == ("04:A1:B2:C3", "Blue")
    assert (await manager.get("/v1/unknown-cards")).json()["items"] == []
    assert await hold(central, "04A1B2C3") is Verdict.ACCEPTED


async def test_a_card_is_dismissed(manager: httpx.AsyncClient, yard: dict[str, Any], central: Any) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    await hold(central, "CAFE")
    assert (await manager.delete("/v1/unknown-cards/cafe")).status_code == 204
    assert (await manager.delete("/v1/unknown-cards/cafe")).status_code == 404
    assert (
        await manager.post("/v1/unknown-cards/cafe/adopt", json={"member_id": "flat-12"})
    ).status_code == 404


async def test_a_reader_adopts_nothing(reader: httpx.AsyncClient) -> None:
    assert (await reader.post("/v1/unknown-cards/cafe/adopt", json={"member_id": "x"})).status_code == 403
    assert (await reader.get("/v1/unknown-cards?limit=0")).json()["field"] == "limit"
