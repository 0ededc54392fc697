"""Public keys of meters: an ASN.1 SubjectPublicKeyInfo in DER, in hex or base64.

The object identifier of the curve is read by hand, so that a key on a curve that `cryptography` does
not have is still known for what it is. Stations that send the key with the data put
`oca:base16:asn1:` before the hex, and base64 around that (OCPP 2.0.1, publicKey; common practice).
"""

import base64
import binascii
import hashlib
import re
from dataclasses import dataclass
from typing import Final

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_der_public_key

from csms.errors import InvalidInput
from csms.metering.signed.curves import OIDS, SUPPORTED

LONGEST: Final = 4000
_EC_PUBLIC_KEY: Final = "1.2.840.10045.2.1"
_PREFIX: Final = "oca:base16:asn1:"
_HEX: Final = re.compile(r"(?:[0-9A-Fa-f]{2})+")
_PEM: Final = re.compile(r"-----BEGIN PUBLIC KEY-----(.+)-----END PUBLIC KEY-----", re.DOTALL)
_SEQUENCE, _BIT_STRING, _OID = 0x30, 0x03, 0x06


@dataclass(frozen=True, slots=True)
class PublicKey:
    """`der` is the SubjectPublicKeyInfo, `curve` its name or, for one we have no name for, its OID."""

    der: bytes
    curve: str

    @property
    def hex(self) -> str:
        return self.der.hex().upper()

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the DER, in hex."""
        return hashlib.sha256(self.der).hexdigest()

    @property
    def supported(self) -> bool:
        """Whether signatures of this key can be verified here."""
        return self.curve in SUPPORTED

    def load(self) -> ec.EllipticCurvePublicKey | None:
        """The key to calculate with; None when that cannot be done here."""
        try:
            found = load_der_public_key(self.der)
        except (UnsupportedAlgorithm, ValueError):
            return None
        return found if isinstance(found, ec.EllipticCurvePublicKey) else None


def read_key(text: str, field: str = "public_key") -> PublicKey:
    """The key in `text`. Raises InvalidInput (`field`)."""
    der = _der(text.strip(), field)
    try:
        curve = _curve(der)
    except (ValueError, IndexError):
        raise InvalidInput(
            field, "is no public key of an elliptic curve; give a SubjectPublicKeyInfo (DER) in hex or base64"
        ) from None
    key = PublicKey(der, OIDS.get(curve, curve))
    if key.supported and key.load() is None:
        raise InvalidInput(field, f"holds no point of its curve {key.curve}; it was cut or mistyped")
    return key


def _der(text: str, field: str) -> bytes:
    if not text or len(text) > LONGEST:
        raise InvalidInput(field, "is empty or too long; give the key in hex or base64")
    if (pem := _PEM.search(text)) is not None:
        text = pem[1]
    text = "".join(text.split())
    if text.lower().startswith(_PREFIX):
        text = text[len(_PREFIX) :]
    if _HEX.fullmatch(text):
        return bytes.fromhex(text)
    try:
        raw = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        raise InvalidInput(field, "is neither hex nor base64") from None
    if raw[: len(_PREFIX)].lower() == _PREFIX.encode():
        return _der(raw.decode("ascii", "replace"), field)
    return raw


def _curve(der: bytes) -> str:
    """The curve's OID. Raises ValueError or IndexError for what is no such key."""
    kind, outer, rest = _element(der)
    _expect(kind == _SEQUENCE and not rest)
    kind, algorithm, rest = _element(outer)
    _expect(kind == _SEQUENCE)
    point_kind, point, after = _element(rest)
    _expect(point_kind == _BIT_STRING and not after and len(point) > 2)
    kind, value, parameters = _element(algorithm)
    _expect(kind == _OID and _dotted(value) == _EC_PUBLIC_KEY)
    kind, value, after = _element(parameters)
    _expect(kind == _OID and not after)
    return _dotted(value)


def _element(der: bytes) -> tuple[int, bytes, bytes]:
    """Tag, content and what follows of the first DER element (X.690, definite lengths)."""
    tag, length, start = der[0], der[1], 2
    if length & 0x80:
        count = length & 0x7F
        _expect(0 < count <= 2)
        start += count
        length = int.from_bytes(der[2:start])
    content = der[start : start + length]
    _expect(len(content) == length)
    return tag, content, der[start + length :]


def _dotted(value: bytes) -> str:
    numbers: list[int] = []
    number = 0
    for byte in value:
        number = number << 7 | byte & 0x7F
        if not byte & 0x80:
            numbers.append(number)
            number = 0
    _expect(bool(numbers))
    first = min(numbers[0] // 40, 2)
    return ".".join(map(str, (first, numbers[0] - 40 * first, *numbers[1:])))


def _expect(fact: bool) -> None:
    if not fact:
        raise ValueError
