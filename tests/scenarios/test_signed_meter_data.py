"""Signed meter data over real sockets, in the carriage of each version, by clients that are not ours."""

import base64
import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from ocpp.v16 import call as call16

from api.node import Node
from tests.csms.metering.signed.meter import SERIAL, Meter, reading
from tests.scenarios.charger import Charger, stamp
from tests.scenarios.charger16 import Charger16
from tests.scenarios.charger201 import Charger201
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import CARDS

START_WH, STOP_WH = 100_000, 107_360
REGISTER = "Energy.Active.Import.Register"


async def charge16(charger: Charger16, meter: Meter, begin: datetime, end: datetime) -> None:
    """The beginning in hex with MeterValues, the end as JSON with StopTransaction."""
    await charger.start(CARDS[charger.station_id], begin, START_WH)
    first = meter.record(reading("B", "100.00", begin))
    signed = {"value": first.encode().hex(), "format": "SignedData", "context": "Transaction.Begin"}
    raw = {"value": "100000", "unit": "Wh", "context": "Transaction.Begin"}
    await charger.call(
        call16.MeterValues(
            connector_id=1,
            transaction_id=charger.number,
            meter_value=[{"timestamp": stamp(begin), "sampled_value": [raw, signed]}],
        )
    )
    fields = _fields(meter, meter.record(reading("E", "107.36", end)))
    told = {
        "value": json.dumps(fields),
        "format": "SignedData",
        "measurand": REGISTER,
        "context": "Transaction.End",
    }
    await charger.call(
        call16.StopTransaction(
            transaction_id=charger.number,
            meter_stop=STOP_WH,
            timestamp=stamp(end),
            transaction_data=[{"timestamp": stamp(end), "sampled_value": [told]}],
        )
    )


async def charge201(charger: Charger201, meter: Meter, begin: datetime, end: datetime) -> None:
    """Beginning and end as signedMeterValue with the events."""
    await charger.start(CARDS[charger.station_id], begin, START_WH)
    for kind, at, tx, kwh, wh in (
        ("Updated", begin + timedelta(seconds=1), "B", "100.00", START_WH),
        ("Ended", end, "E", "107.36", STOP_WH),
    ):
        fields = _fields(meter, meter.record(reading(tx, kwh, at)))
        value: dict[str, Any] = {
            "value": wh,
            "measurand": REGISTER,
            "context": "Transaction.Begin" if tx == "B" else "Transaction.End",
            "signed_meter_value": {
                "signed_meter_data": fields["signedMeterData"],
                "signing_method": fields["signingMethod"],
                "encoding_method": fields["encodingMethod"],
                "public_key": fields["publicKey"],
            },
        }
        readings = [{"timestamp": stamp(at), "sampled_value": [value]}]
        more: dict[str, Any] = {"stopped_reason": "Local"} if kind == "Ended" else {}
        await charger._event(kind, at, "SignedDataReceived", readings, **more)


def _fields(meter: Meter, record: str) -> dict[str, str]:
    """SignedMeterValueType; the key as the OCA's note on signed values has it."""
    return {
        "signedMeterData": base64.b64encode(record.encode()).decode(),
        "signingMethod": "ECDSA-secp256r1-SHA256",
        "encodingMethod": "OCMF",
        "publicKey": base64.b64encode(f"oca:base16:asn1:{meter.key_hex}".encode()).decode(),
    }


@pytest.mark.parametrize("version", ["1.6", "2.0.1"])
async def test_from_the_socket_to_the_proof(
    version: str, node: Node, rest: Rest, chargers: dict[str, Charger]
) -> None:
    charger, meter = chargers[version], Meter()
    await charger.dial()
    await charger.boot()
    end = node.central.clock.now().replace(microsecond=0)
    begin = end - timedelta(hours=1)
    if isinstance(charger, Charger16):
        await charge16(charger, meter, begin, end)
    else:
        assert isinstance(charger, Charger201)
        await charge201(charger, meter, begin, end)
    (session,) = await rest.sessions(charger.station_id)
    number = session["id"]

    async def result(wanted: str) -> Json:
        async def ask() -> Json | None:
            found = await rest.get(f"/sessions/{number}/signed")
            return found if found["result"] == wanted else None

        return await until(ask, f"{wanted} for session {number}", timeout_s=60)

    before = await result("not_proven")
    assert [each["verdict"] for each in before["records"]] == ["unknown_key"] * 2
    assert "proves nothing" in " ".join(before["records"][1]["reasons"])
    (key,) = await rest.every(f"/meter-keys?serial={SERIAL}")
    assert (key["state"], key["public_key"]) == ("unconfirmed", meter.key.hex)
    await rest.post(f"/meter-keys/{key['id']}/confirm")
    after = await result("proven")
    assert (after["energy_wh"], session["energy_wh"]) == ("7360", 7360)
    for record in after["records"]:
        assert record["verdict"] == "verified"
        carried: Any = record["received"]
        assert record["data"] in (carried, _unpacked(carried)), "kept verbatim, both of them"


def _unpacked(text: str) -> str:
    if not text.startswith("{"):
        return bytes.fromhex(text).decode()
    return base64.b64decode(json.loads(text)["signedMeterData"]).decode()
