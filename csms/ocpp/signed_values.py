"""Signed meter data out of what carries it, both versions.

OCPP 1.6 has one text for it (`format: SignedData`): "a signed binary data block, encoded as hex data"
(section 7.40), which stations read in four ways, all common practice: the record as it is, its hex,
its base64, or a JSON object with the fields that OCPP 2.x gives its SignedMeterValueType
(signedMeterData in base64, signingMethod, encodingMethod, publicKey).
"""

import base64
import binascii
import re
from typing import Final

import orjson

from csms.ocpp.texts import as_text, clean
from csms.stations.signed import SignedValue

OCMF: Final = "OCMF"
_HEX: Final = re.compile(r"(?:[0-9A-Fa-f]{2})+")
_LONGEST_WORD: Final = 50


def read_signed16(value: object) -> SignedValue:
    """Signed data of OCPP 1.6: a SampledValue's `value` whose `format` is SignedData."""
    received = as_text(value) or ""
    if received.lstrip().startswith("{"):
        try:
            found = orjson.loads(received)
        except orjson.JSONDecodeError:
            found = None
        if isinstance(found, dict) and "signedMeterData" in found:
            return _from_fields(found, received)
    data = _record_in(received)
    return SignedValue(received, data, _named("", data))


def read_signed2(value: object) -> SignedValue:
    """Signed data of OCPP 2.x: a SampledValue's `signedMeterValue`."""
    received = as_text(value) or ""
    if isinstance(value, dict):
        return _from_fields(value, received)
    data = _record_in(received)
    return SignedValue(received, data, _named("", data))


def _from_fields(fields: dict[str, object], received: str) -> SignedValue:
    data = _record_in(as_text(fields.get("signedMeterData")) or "")
    return SignedValue(
        received,
        data,
        _named(clean(fields.get("encodingMethod"), _LONGEST_WORD), data),
        clean(fields.get("signingMethod"), _LONGEST_WORD),
        clean(fields.get("publicKey")),
    )


def _record_in(text: str) -> str:
    """The record itself. A text that is neither hex nor base64 of a text is one as it stands."""
    if text.lstrip().startswith(f"{OCMF}|"):
        return text
    packed = "".join(text.split())
    if _HEX.fullmatch(packed):
        return _decoded(bytes.fromhex(packed)) or text
    try:
        return _decoded(base64.b64decode(packed, validate=True)) or text
    except (binascii.Error, ValueError):
        return text


def _decoded(raw: bytes) -> str:
    """The bytes as text, "" when they are none: a signature is over the bytes, so nothing is mended."""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return ""


def _named(encoding: str, data: str) -> str:
    """The encoding as the station names it, or as the record shows."""
    return encoding or (OCMF if data.lstrip().startswith(f"{OCMF}|") else "")
