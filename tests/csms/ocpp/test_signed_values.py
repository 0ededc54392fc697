"""The carriages of signed data: what comes out is the record, to the byte."""

import base64
import json

import pytest

from csms.ocpp.signed_values import read_signed2, read_signed16
from csms.stations.signed import SignedValue

RECORD = 'OCMF|{"FV":"1.0","GI":"Loom | mill ä"}|{"SD":"3045"}'
PACKED = base64.b64encode(RECORD.encode()).decode()
FIELDS = {
    "signedMeterData": PACKED,
    "signingMethod": "ECDSA-secp256r1-SHA256",
    "encodingMethod": "OCMF",
    "publicKey": "b2Nh",
}


@pytest.mark.parametrize(
    "text",
    [RECORD, f" {RECORD}\n", RECORD.encode().hex(), RECORD.encode().hex().upper(), PACKED],
    ids=["plain", "blanks", "hex", "HEX", "base64"],
)
def test_a_text_of_1_6(text: str) -> None:
    found = read_signed16(text)
    assert (found.received, found.data.strip(), found.encoding) == (text, RECORD, "OCMF")


def test_json_inside_the_text_of_1_6() -> None:
    text = json.dumps(FIELDS)
    assert read_signed16(text) == SignedValue(text, RECORD, "OCMF", "ECDSA-secp256r1-SHA256", "b2Nh")


def test_an_object_of_2_x_keeps_its_fields_verbatim() -> None:
    found = read_signed2(FIELDS)
    assert json.loads(found.received) == FIELDS
    assert found == SignedValue(found.received, RECORD, "OCMF", "ECDSA-secp256r1-SHA256", "b2Nh")


@pytest.mark.parametrize("value", ["<xml/>", "{no json", '{"other": 1}', "T0Z", "ff00", 7, ["x"]])
def test_what_is_none_of_these_is_kept_as_it_is(value: object) -> None:
    found = read_signed16(value)
    assert found.received == (value if isinstance(value, str) else json.dumps(value))
    assert found.encoding == ""


def test_nothing_is_nothing() -> None:
    assert read_signed16(None) == read_signed2(None) == SignedValue("", "")
    assert read_signed2({"encodingMethod": "EDL"}).encoding == "EDL"
