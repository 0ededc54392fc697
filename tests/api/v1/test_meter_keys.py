from typing import Any

import httpx
import pytest

from tests.csms.metering.signed.meter import SERIAL, Meter

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""Their rows are tested on both databases with the service."""

URL = "/v1/meter-keys"


async def test_a_key_from_its_nameplate_to_the_swap_of_its_meter(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient
) -> None:
    meter = Meter()
    body = {"serial": SERIAL, "public_key": meter.key_hex, "note": "nameplate, bay 1"}
    assert (await reader.post(URL, json=body)).status_code == 403
    made = await manager.post(URL, json=body)
    assert made.status_code == 201
    key = made.json()
    assert made.headers["location"] == f"{URL}/{key['id']}"
    assert (key["state"], key["curve"], key["supported"], key["source"]) == (
        *("confirmed", "secp256r1", True),
        "key:manager",
    )
    assert (key["public_key"], key["fingerprint"]) == (meter.key.hex, meter.key.fingerprint)
    one = f"{URL}/{key['id']}"
    changed = (await manager.patch(one, json={"valid_to": "2026-12-01T00:00:00+01:00"})).json()
    assert (changed["valid_to"], changed["note"]) == ("2026-11-30T23:00:00Z", "nameplate, bay 1")
    assert (await manager.patch(one, json={"valid_to": None})).json()["valid_to"] is None
    assert (await manager.post(f"{one}/revoke")).json()["state"] == "revoked"
    assert (await manager.post(f"{one}/confirm")).json()["state"] == "confirmed"
    assert (await reader.get(one)).json()["state"] == "confirmed"
    assert [each["id"] for each in (await reader.get(f"{URL}?serial={SERIAL}")).json()["items"]] == [
        key["id"]
    ]
    assert (await reader.get(f"{URL}?state=unconfirmed")).json()["items"] == []
    assert (await manager.post(URL, json=body)).status_code == 409


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"serial": "", "public_key": "00"}, "serial"),
        ({"serial": SERIAL}, "public_key"),
        ({"serial": SERIAL, "public_key": "words"}, "public_key"),
        ({"serial": SERIAL, "public_key": "00", "colour": "red"}, "colour"),
    ],
)
async def test_a_key_that_is_none_is_refused(
    manager: httpx.AsyncClient, body: dict[str, Any], field: str
) -> None:
    refused = await manager.post(URL, json=body)
    assert (refused.status_code, refused.json()["field"]) == (422, field)


async def test_a_key_that_is_not_there(manager: httpx.AsyncClient) -> None:
    for answer in (
        await manager.get(f"{URL}/key_9"),
        await manager.patch(f"{URL}/key_9", json={"note": "x"}),
        await manager.post(f"{URL}/key_9/confirm"),
    ):
        assert answer.status_code == 404
