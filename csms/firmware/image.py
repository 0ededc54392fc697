"""A firmware image: what it is for, and how it is known to be whole."""

import base64
import binascii
import re
from dataclasses import dataclass, replace
from datetime import datetime

from cryptography import x509

from csms.errors import InvalidInput
from csms.sites.model import check_id

LONGEST_TEXT = 120
LONGEST_PEM = 5500
"""OCPP 2.0.1: a signing certificate has at most 5,500 characters."""
LONGEST_SIGNATURE = 800


@dataclass(frozen=True, slots=True, kw_only=True)
class Image:
    """`vendor` and `model`: of the stations that it fits ("" any). `version` is what a station reports
    when it runs. `sha256` (hex) and `size_bytes` are known once the file is there. `token` stands in the
    address that stations fetch it from."""

    id: str
    vendor: str = ""
    model: str = ""
    version: str
    signing_certificate: str = ""
    signature: str = ""
    sha256: str = ""
    size_bytes: int = 0
    token: str = ""
    created_at: datetime

    @property
    def signed(self) -> bool:
        return bool(self.signature)

    @property
    def complete(self) -> bool:
        """Whether its file is there."""
        return bool(self.sha256)


def check_image(image: Image) -> Image:
    """`image` in its final form; InvalidInput names the field that is wrong."""
    for name in ("vendor", "model", "version"):
        text = getattr(image, name).strip()
        if len(text) > LONGEST_TEXT or not text.isprintable():
            raise InvalidInput(name, f"must be one line of at most {LONGEST_TEXT} characters")
        image = replace(image, **{name: text})
    if not image.version:
        raise InvalidInput("version", "give the version that a station reports when it runs this")
    if bool(image.signature) != bool(image.signing_certificate):
        raise InvalidInput("signature", "signature and signing_certificate belong together")
    if image.signature:
        _check_signature(image)
    return replace(image, id=check_id("id", image.id))


def _check_signature(image: Image) -> None:
    if len(image.signing_certificate) > LONGEST_PEM:
        raise InvalidInput("signing_certificate", f"has more than {LONGEST_PEM} characters")
    try:
        x509.load_pem_x509_certificate(image.signing_certificate.encode())
    except ValueError:
        raise InvalidInput("signing_certificate", "is no certificate in PEM") from None
    try:
        raw = base64.b64decode(image.signature, validate=True)
    except (binascii.Error, ValueError):
        raise InvalidInput("signature", "is not base64") from None
    if not raw or len(image.signature) > LONGEST_SIGNATURE:
        raise InvalidInput("signature", f"must have 1 to {LONGEST_SIGNATURE} characters of base64")


def check_sha256(field: str, text: str) -> str:
    """A checksum in hex, lower case. Raises InvalidInput."""
    folded = text.strip().lower()
    if not re.fullmatch(r"[0-9a-f]{64}", folded):
        raise InvalidInput(field, "is no SHA-256 in hex (64 digits)")
    return folded
