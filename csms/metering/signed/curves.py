"""Elliptic curves by the names that OCMF and ASN.1 have for them.

OCMF 1.2, table 22 names seven signature algorithms, all ECDSA over SHA-256. `cryptography` has no
secp192k1: a record signed with that can be read, and not verified.
"""

import re
from collections.abc import Mapping
from typing import Final

from cryptography.hazmat.primitives.asymmetric import ec

DEFAULT_ALGORITHM: Final = "ECDSA-secp256r1-SHA256"
"""What an absent SA means (OCMF 1.2, table 22)."""

OIDS: Final[Mapping[str, str]] = {
    "1.3.132.0.31": "secp192k1",
    "1.2.840.10045.3.1.1": "secp192r1",
    "1.3.132.0.10": "secp256k1",
    "1.2.840.10045.3.1.7": "secp256r1",
    "1.3.132.0.34": "secp384r1",
    "1.3.132.0.35": "secp521r1",
    "1.3.36.3.3.2.8.1.1.7": "brainpoolP256r1",
    "1.3.36.3.3.2.8.1.1.11": "brainpoolP384r1",
    "1.3.36.3.3.2.8.1.1.13": "brainpoolP512r1",
}
"""Object identifier -> name (SEC 2, RFC 5480, RFC 5639)."""

SUPPORTED: Final[Mapping[str, type[ec.EllipticCurve]]] = {
    "secp192r1": ec.SECP192R1,
    "secp256k1": ec.SECP256K1,
    "secp256r1": ec.SECP256R1,
    "secp384r1": ec.SECP384R1,
    "secp521r1": ec.SECP521R1,
    "brainpoolP256r1": ec.BrainpoolP256R1,
    "brainpoolP384r1": ec.BrainpoolP384R1,
    "brainpoolP512r1": ec.BrainpoolP512R1,
}

_OTHER_NAMES: Final[Mapping[str, str]] = {
    "brainpool256r1": "brainpoolP256r1",
    "brainpool384r1": "brainpoolP384r1",
    "brainpool512r1": "brainpoolP512r1",
    "prime256v1": "secp256r1",
    "prime384v1": "secp384r1",
}
_BY_FOLDED: Final = {name.lower(): name for name in OIDS.values()} | {
    other.lower(): name for other, name in _OTHER_NAMES.items()
}
_ALGORITHM: Final = re.compile(r"ECDSA-([A-Za-z0-9]+)-SHA256", re.ASCII)


def curve_of(algorithm: str) -> str | None:
    """The curve of a signature algorithm as OCMF names it; None for what is none of them."""
    found = _ALGORITHM.fullmatch(algorithm)
    return None if found is None else _BY_FOLDED.get(found[1].lower())
