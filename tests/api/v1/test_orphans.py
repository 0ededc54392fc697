"""Orphan steps over REST."""

from datetime import timedelta
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.stations.questions import TransactionReported, TransactionStep


@pytest.fixture
async def orphan(manager: httpx.AsyncClient, supply: dict[str, Any], central: Central) -> dict[str, Any]:
    """A stop for nothing that runs."""
    station = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main"}
    assert (await manager.post("/v1/stations", json=station)).status_code == 201
    now = central.clock.now()
    stop = TransactionReported(
        step=TransactionStep.ENDED, transaction_id="-1", at=now, register_wh=2500, evse=1
    )
    await central.dispatcher.ask("garage-1", stop, now)
    (found,) = (await manager.get("/v1/orphans?site=weavers-yard&resolved=false")).json()["items"]
    assert isinstance(found, dict)
    return found


async def test_a_step_is_told_and_dismissed(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, orphan: dict[str, Any]
) -> None:
    assert (orphan["station_id"], orphan["body"]["register_wh"]) == ("garage-1", 2500)
    assert "fits no session" in orphan["reason"]
    one = f"/v1/orphans/{orphan['id']}"
    assert (await reader.get(one)).json() == orphan
    assert (await reader.post(f"{one}/dismiss", json={"note": "x"})).status_code == 403
    assert (await manager.post(f"{one}/dismiss", json={"note": ""})).json()["field"] == "note"
    settled = (await manager.post(f"{one}/dismiss", json={"note": "a test by the electrician"})).json()
    assert (settled["resolved_by"], settled["note"]) == ("key:manager", "a test by the electrician")
    assert (await reader.get("/v1/orphans?resolved=false&station=garage-1")).json()["items"] == []
    assert (await manager.post(f"{one}/dismiss", json={"note": "again"})).status_code == 409
    assert (await manager.get("/v1/orphans/4711")).status_code == 404


async def test_a_step_is_put_into_a_session(
    manager: httpx.AsyncClient, central: Central, orphan: dict[str, Any]
) -> None:
    now = central.clock.now()
    began = TransactionReported(
        step=TransactionStep.BEGAN,
        transaction_id="tx-1",
        at=now - timedelta(hours=1),
        register_wh=1000,
        evse=1,
    )
    await central.dispatcher.ask("garage-1", began, now)
    number = (await central.sessions.by_transaction("garage-1", "tx-1")).id
    url = f"/v1/orphans/{orphan['id']}/assign"
    assert (await manager.post(url, json={"session_id": 4711})).status_code == 404
    assert (await manager.post(url, json={"session_id": 0})).json()["field"] == "session_id"
    settled = await manager.post(url, json={"session_id": number})
    assert (settled.status_code, settled.json()["session_id"]) == (200, number)
    session = (await manager.get(f"/v1/sessions/{number}")).json()
    assert (session["state"], session["energy_wh"]) == ("ended", 1500)
