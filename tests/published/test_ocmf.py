"""Signed meter data against published records: an open library's OCMF test vectors (synthetic keys,
each verified with OpenSSL too), one for every algorithm of OCMF 1.2's table 22."""

import hashlib
import json
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.public_key import read_key
from csms.metering.signed.record import Record, parse
from csms.metering.signed.verdict import Judgement, Verdict, judge, read
from csms.stations.signed import SignedValue

PUBLISHED: dict[str, Any] = json.loads(Path(__file__).with_name("ocmf.json").read_text())
VECTORS = [pytest.param(vector, id=vector["name"]) for vector in PUBLISHED["vectors"]]
NOT_HERE = "ECDSA-secp192k1-SHA256"


def judged(vector: dict[str, Any], record: str | None = None) -> Judgement:
    """The verdict on a record by the vector's key, confirmed."""
    found = read(SignedValue("", record or vector["record"], "OCMF"))
    if isinstance(found, Judgement):
        return found
    key = read_key(vector["public_key_spki_hex"])
    at = datetime(2024, 1, 1, tzinfo=UTC)
    known = MeterKey(id="key_1", serial=found.serial, key=key, state=KeyState.CONFIRMED, created_at=at)
    return judge(found, [known], None)


def test_there_is_a_record_for_each_algorithm_of_the_standard() -> None:
    assert {parse(each["record"]).algorithm for each in PUBLISHED["vectors"]} == {
        f"ECDSA-{curve}-SHA256"
        for curve in (
            *("secp192k1", "secp256k1", "secp192r1", "secp256r1"),
            *("brainpool256r1", "secp384r1", "brainpool384r1"),
        )
    }


@pytest.mark.parametrize("vector", VECTORS)
def test_the_record_is_read_and_its_signature_holds(vector: dict[str, Any]) -> None:
    record = parse(vector["record"])
    assert hashlib.sha256(record.payload).hexdigest() == vector["payload_sha256"]
    assert record.page[0] == "T"
    assert [(each.reason, each.value, each.unit) for each in record.readings] == [
        ("B", Decimal("100.000"), "kWh"),
        ("E", Decimal("129.500"), "kWh"),
    ]
    assert record.readings[0].at == datetime(2024, 3, 1, 7, tzinfo=UTC)
    expected = Verdict.NOT_SUPPORTED if record.algorithm == NOT_HERE else Verdict.VERIFIED
    assert judged(vector).verdict is expected


@pytest.mark.parametrize("vector", VECTORS)
def test_any_changed_byte_is_found(vector: dict[str, Any]) -> None:
    text: str = vector["record"]
    assert text.count("129.500") == 1
    changed = {
        "energy": text.replace("129.500", "929.500"),
        "a digit less": text.replace("129.500", "129.50"),
        "a blank more": text.replace('"E",', '"E", '),
        "another time": text.replace("T09:30", "T09:31"),
    }
    false = Verdict.NOT_SUPPORTED if NOT_HERE in text else Verdict.WRONG_SIGNATURE
    for what, record in changed.items():
        assert record != text
        assert judged(vector, record).verdict is false, what


def test_a_key_as_stations_send_it_is_read() -> None:
    """OCA's form: base64 of oca:base16:asn1: and the hex of the DER."""
    key = read_key(PUBLISHED["oca_public_key_field"])
    assert key.curve == "secp256r1"
    assert key.hex.startswith("3059301306072A8648CE3D020106082A8648CE3D030107034200043AEEB45C")


def test_a_record_of_another_meter_does_not_fit() -> None:
    one, other = (each for each in PUBLISHED["vectors"] if "256r1" in each["name"])
    assert isinstance(read(SignedValue("", one["record"])), Record)
    assert judged({**one, "public_key_spki_hex": other["public_key_spki_hex"]}).verdict is (
        Verdict.WRONG_SIGNATURE
    )
