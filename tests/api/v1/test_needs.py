"""Needs of charges and members over REST."""

from datetime import datetime
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.stations.model import TokenRef
from csms.stations.questions import TransactionReported, TransactionStep

USUAL = {"days": [1, 2, 3, 4, 5], "leaves_at": "06:00", "energy_wh": 20_000, "to_percent": 80}


@pytest.fixture
async def session(
    manager: httpx.AsyncClient, central: Central, supply: dict[str, Any], clock: ManualClock
) -> int:
    """A charge that runs."""
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main"}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201
    begins = TransactionReported(
        step=TransactionStep.BEGAN,
        transaction_id="t1",
        at=clock.now(),
        evse=1,
        token=TokenRef("04AA"),
        register_wh=1000,
    )
    await central.dispatcher.ask("garage-1", begins, clock.now())
    return (await central.sessions.by_transaction("garage-1", "t1")).id


async def test_a_members_need_is_told_shown_and_taken_back(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, flat: dict[str, Any]
) -> None:
    url = f"/v1/members/{flat['id']}/need"
    assert (await manager.get(url)).status_code == 404
    told = await manager.put(url, json=USUAL)
    assert (told.status_code, told.json()) == (200, {**USUAL, "battery_wh": None})
    assert (await reader.get(url)).json() == told.json()
    assert (await reader.put(url, json=USUAL)).status_code == 403
    assert (await manager.delete(url)).status_code == 204
    assert (await manager.delete(url)).status_code == 404
    assert (await manager.put("/v1/members/nobody/need", json=USUAL)).status_code == 404


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"days": []}, "days"),
        ({"days": [0]}, "days"),
        ({"days": [1, 1]}, "days"),
        ({"leaves_at": "24:00"}, "leaves_at"),
        ({"leaves_at": "6"}, "leaves_at"),
        ({"energy_wh": 0}, "energy_wh"),
        ({"energy_wh": None, "to_percent": None}, "energy_wh"),
        ({"to_percent": 101}, "to_percent"),
        ({"soc_percent": 5}, "soc_percent"),
    ],
)
async def test_a_wrong_need_names_its_field(
    manager: httpx.AsyncClient, flat: dict[str, Any], change: dict[str, Any], field: str
) -> None:
    answer = await manager.put(f"/v1/members/{flat['id']}/need", json={**USUAL, **change})
    assert answer.status_code == 422
    assert answer.json()["field"].startswith(field)


async def test_a_charges_need_is_told_shown_and_taken_back(
    manager: httpx.AsyncClient, session: int, clock: ManualClock
) -> None:
    url = f"/v1/sessions/{session}/need"
    assert (await manager.get(url)).status_code == 404
    told = await manager.put(url, json={"departure": "2026-11-03T06:00:00+01:00", "energy_wh": 24_000})
    assert told.status_code == 200, told.text
    assert told.json() == {
        "departure": "2026-11-03T05:00:00Z",
        "energy_wh": 24_000,
        "to_percent": None,
        "battery_wh": None,
        "soc_percent": None,
    }
    assert (await manager.get(url)).json() == told.json()
    past = await manager.put(url, json={"departure": "2026-11-01T06:00:00Z"})
    assert (past.status_code, past.json()["field"]) == (422, "departure")
    assert (await manager.put(url, json={})).status_code == 422
    assert (await manager.delete(url)).status_code == 204
    assert (await manager.put("/v1/sessions/999/need", json={"energy_wh": 5})).status_code == 404
    await manager.post(f"/v1/sessions/{session}/close")
    assert (await manager.put(url, json={"energy_wh": 5})).status_code == 409
    assert datetime.fromisoformat(told.json()["departure"]) > clock.now()
