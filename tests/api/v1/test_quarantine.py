"""Unreadable messages read once more, over REST."""

from typing import Any

import httpx

from csms.app import Central

URL = "/v1/stations/garage-1/quarantine"


async def test_a_message_is_replayed_and_thrown_away(
    manager: httpx.AsyncClient, central: Central, yard: dict[str, Any]
) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    now = central.clock.now()
    await central._sockets.connected("garage-1", "1.6", now)
    for frame in (
        b"Hello?",
        b'[2,"m","StatusNotification",{"connectorId":1,"errorCode":"NoError","status":"Faulted"}',
    ):
        await central.quarantine.keep("garage-1", frame, "the message is not JSON", now)
    broken, hello = (await manager.get(URL)).json()["items"]
    told = (await manager.post(f"{URL}/{hello['id']}/replay")).json()
    assert told == {
        "outcome": "unreadable",
        "action": "",
        "detail": "the message is not JSON",
        "answer": None,
    }
    told = (await manager.post(f"{URL}/{broken['id']}/replay", json={"frame": broken["frame"] + "]"})).json()
    assert (told["outcome"], told["action"], told["answer"]) == ("taken", "StatusNotification", {})
    (evse,) = (await manager.get("/v1/stations/garage-1/evses")).json()["items"]
    assert evse["status"] == "faulted"
    kept, _ = (await manager.get(URL)).json()["items"]
    assert (kept["outcome"], bool(kept["replayed_at"])) == ("taken", True)
    assert (await manager.post(f"{URL}/{broken['id']}/replay")).status_code == 409
    assert (await manager.delete(f"{URL}/{broken['id']}")).status_code == 204
    assert (await manager.delete(f"{URL}/{broken['id']}")).status_code == 404
    assert (await manager.post("/v1/stations/garage-2/quarantine/1/replay")).status_code == 404
