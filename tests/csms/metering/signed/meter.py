"""A meter that signs: OCMF records by its own key, made with the standard's own words."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from csms.metering.signed.public_key import PublicKey, read_key

SERIAL = "LOOM0001"
BEGAN = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)


def reading(tx: str, kwh: str, at: datetime = BEGAN, **more: Any) -> dict[str, Any]:
    """A reading at `at` of `kwh` with just those digits."""
    stamp = at.strftime("%Y-%m-%dT%H:%M:%S,000+0000 S")
    told = {"TM": stamp, "TX": tx, "RV": _Digits(kwh), "RI": "1-0:1.8.0", "RU": "kWh", "ST": "G"}
    return {**told, **more}


class _Digits(float):
    """A number that JSON writes with the digits it was given."""

    def __new__(cls, text: str) -> "_Digits":
        made = super().__new__(cls, text)
        made.text = text
        return made

    text: str

    def __repr__(self) -> str:
        return self.text


class Meter:
    """`page` counts up by itself."""

    def __init__(self, serial: str = SERIAL) -> None:
        self.serial = serial
        self.page = 0
        self._private = ec.generate_private_key(ec.SECP256R1())
        der = self._private.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        self.key_hex = der.hex()
        self.key: PublicKey = read_key(self.key_hex)

    def record(self, *readings: Mapping[str, Any], **more: Any) -> str:
        """The next record, with those readings."""
        self.page += 1
        payload = {"FV": "1.0", "GS": "GATE", "PG": f"T{self.page}", "MS": self.serial, "RD": [*readings]}
        return self.sign(_json({**payload, **more}))

    def sign(self, payload: str) -> str:
        """A record of just that payload."""
        signature = self._private.sign(payload.encode(), ec.ECDSA(hashes.SHA256())).hex()
        return f'OCMF|{payload}|{{"SA":"ECDSA-secp256r1-SHA256","SD":"{signature}"}}'

    def charge(self, begin: str = "100.00", end: str = "107.36", hours: float = 1) -> tuple[str, str]:
        """The records of the beginning and the end of a charge."""
        first = self.record(reading("B", begin))
        return first, self.record(reading("E", end, BEGAN + timedelta(hours=hours)))


def _json(value: object) -> str:
    if isinstance(value, _Digits):
        return value.text
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{json.dumps(name)}:{_json(each)}" for name, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(_json, value)) + "]"
    return json.dumps(value)
