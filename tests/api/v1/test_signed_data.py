"""Signed data of a session over REST, and the record that is handed on with it."""

import base64
from datetime import timedelta
from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.sessions.session import Cost
from csms.stations.model import Reading, ReadingContext, TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from csms.stations.signed import SignedValue
from tests.csms.metering.signed.meter import SERIAL, Meter

PLACE = {
    "country_code": "BE",
    "party_id": "WEY",
    "address": "Weversgang 1",
    "city": "Gent",
    "country": "BEL",
    "latitude": "51.04530",
    "longitude": "3.72500",
}


@pytest.fixture(autouse=True)
async def station(manager: httpx.AsyncClient, supply: dict[str, Any]) -> None:
    body = {"id": "garage-1", "site_id": "weavers-yard", "circuit_id": "main"}
    assert (await manager.post("/v1/stations", json=body)).status_code == 201


async def charge(central: Central, meter: Meter) -> int:
    """An hour with signed readings at both ends, 7.36 kWh."""
    assert isinstance(central.clock, ManualClock)
    texts = meter.charge()
    for step, text, context, register_wh in (
        (TransactionStep.BEGAN, texts[0], ReadingContext.BEGIN, 100_000),
        (TransactionStep.ENDED, texts[1], ReadingContext.END, 107_360),
    ):
        at = central.clock.now()
        signed = SignedValue(text, text, "OCMF", "", meter.key_hex)
        report = TransactionReported(
            step=step,
            transaction_id="tx-1",
            at=at,
            evse=1,
            connector=1,
            token=TokenRef("04a1b2c3"),
            register_wh=register_wh,
            readings=(Reading(at=at, context=context, register_wh=register_wh, signed=(signed,)),),
        )
        await central.dispatcher.ask("garage-1", report, at)
        central.clock.advance(3600)
    await central.signed_data.judge_pending()
    return (await central.sessions.by_transaction("garage-1", "tx-1")).id


async def test_a_session_tells_what_its_meter_vouches_for(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, central: Central
) -> None:
    meter = Meter()
    number = await charge(central, meter)
    before = (await reader.get(f"/v1/sessions/{number}/signed")).json()
    assert (before["result"], before["energy_wh"]) == ("not_proven", "7360")
    assert [each["verdict"] for each in before["records"]] == ["unknown_key"] * 2
    (found,) = (await reader.get(f"/v1/meter-keys?serial={SERIAL}")).json()["items"]
    await manager.post(f"/v1/meter-keys/{found['id']}/confirm")
    await central.signed_data.judge_pending()
    after = (await reader.get(f"/v1/sessions/{number}/signed")).json()
    assert (after["result"], after["energy_wh"], after["serial"]) == ("proven", "7360", SERIAL)
    assert [each["verdict"] for each in after["records"]] == ["verified"] * 2
    assert after["records"][0]["received"].startswith("OCMF|{")
    samples = (await reader.get(f"/v1/sessions/{number}/samples")).json()["items"]
    assert samples[0]["signed"] == after["records"][0]["received"]
    assert (await reader.get("/v1/sessions/4711/signed")).status_code == 404


async def test_the_record_is_handed_on_when_all_is_known(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, central: Central
) -> None:
    meter = Meter()
    number = await charge(central, meter)
    await manager.post("/v1/meter-keys", json={"serial": SERIAL, "public_key": meter.key_hex})
    await central.signed_data.judge_pending()
    url = f"/v1/sessions/{number}/cdr"
    refused = await reader.get(url)
    assert (refused.status_code, "PUT /v1/sites/weavers-yard/location" in refused.text) == (409, True)
    await manager.put("/v1/sites/weavers-yard/location", json=PLACE)
    assert "no price yet" in (await reader.get(url)).json()["detail"]
    lines = {
        "lines": [
            {"dimension": "ENERGY", "cost_excl_vat": "15.4900", "cost_incl_vat": None},
        ]
    }
    await central.sessions.set_cost(number, Cost(None, "NOK", 1549, 1936, lines))
    record = (await reader.get(url)).json()
    assert (record["total_energy"], record["total_time"]) == (7.36, 1)
    assert record["total_cost"] == {"excl_vat": 15.49, "incl_vat": 19.36}
    assert record["total_energy_cost"] == {"excl_vat": 15.49}
    signed = record["signed_data"]
    assert (signed["encoding_method"], [each["nature"] for each in signed["signed_values"]]) == (
        *("OCMF",),
        ["Start", "End"],
    )
    assert base64.b64decode(signed["public_key"]) == meter.key.der
    kept = (await reader.get(f"/v1/sessions/{number}/signed")).json()["records"]
    for value, one in zip(signed["signed_values"], kept, strict=True):
        assert base64.b64decode(value["signed_data"]).decode() == one["received"]
    assert record["meter_id"] == SERIAL


async def test_a_session_that_runs_has_no_record_yet(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, central: Central
) -> None:
    await manager.put("/v1/sites/weavers-yard/location", json=PLACE)
    now = central.clock.now()
    began = TransactionReported(step=TransactionStep.BEGAN, transaction_id="tx-2", at=now, evse=1)
    await central.dispatcher.ask("garage-1", began, now + timedelta(seconds=1))
    number = (await central.sessions.by_transaction("garage-1", "tx-2")).id
    assert "has not ended" in (await reader.get(f"/v1/sessions/{number}/cdr")).json()["detail"]
    signed = (await reader.get(f"/v1/sessions/{number}/signed")).json()
    assert (signed["result"], signed["records"]) == ("none", [])
