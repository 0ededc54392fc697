"""Reading a certificate and judging whether it is that of a station. Pure.

The chain up to a root that we trust and the dates are checked by TLS itself, before a station has
said a word. Here: whose it is. The standard has the common name hold the station's unique serial
number and the organization the operator's name (OCPP 2.0.1 A00.FR.4xx, part 2 block A); stations in the
field put their identity there, so either will do.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.x509.oid import NameOID

from csms.errors import InvalidInput
from csms.stations.words.security import CertificateHash


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What a person wants to know of a certificate. `serial_number` is hex."""

    common_name: str
    organization: str
    issuer: str
    serial_number: str
    not_before: datetime
    not_after: datetime


def read_pem(field: str, text: str) -> x509.Certificate:
    """The first certificate in `text`. Raises InvalidInput with `field`."""
    try:
        return x509.load_pem_x509_certificate(text.encode())
    except ValueError:
        raise InvalidInput(
            field, "is no certificate in PEM; it begins with -----BEGIN CERTIFICATE-----"
        ) from None


def read_der(data: bytes) -> x509.Certificate:
    """Raises ValueError."""
    return x509.load_der_x509_certificate(data)


def facts(certificate: x509.Certificate) -> Facts:
    return Facts(
        common_name=name_part(certificate.subject, NameOID.COMMON_NAME),
        organization=name_part(certificate.subject, NameOID.ORGANIZATION_NAME),
        issuer=certificate.issuer.rfc4514_string(),
        serial_number=f"{certificate.serial_number:x}",
        not_before=certificate.not_valid_before_utc,
        not_after=certificate.not_valid_after_utc,
    )


def name_part(name: x509.Name, oid: x509.ObjectIdentifier) -> str:
    """The first attribute of that kind, "" when there is none."""
    found = name.get_attributes_for_oid(oid)
    return str(found[0].value) if found else ""


def why_not_of_station(certificate: x509.Certificate, names: Iterable[str], organization: str) -> str:
    """Why this is not the certificate of a station that goes by `names`; "" when it is.

    `organization` "": not looked at.
    """
    shown = facts(certificate)
    if not any(name and name.casefold() in shown.common_name.casefold() for name in names):
        return f"the certificate is of {shown.common_name or 'nobody'}, not of this station"
    if organization and organization.casefold() not in shown.organization.casefold():
        return f"the certificate is of {shown.organization or 'no organization'}, not of {organization}"
    return ""


def hash_of(certificate: x509.Certificate, issuer: x509.Certificate) -> CertificateHash:
    """How OCPP names a certificate (CertificateHashDataType): as OCSP does, RFC 6960, by SHA-256."""
    name = hashes.Hash(hashes.SHA256())
    name.update(certificate.issuer.public_bytes())
    key = hashes.Hash(hashes.SHA256())
    public = issuer.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    key.update(_subject_public_key(public))
    return CertificateHash(
        algorithm="SHA256",
        issuer_name_hash=name.finalize().hex(),
        issuer_key_hash=key.finalize().hex(),
        serial_number=f"{certificate.serial_number:x}",
    )


def _subject_public_key(info: bytes) -> bytes:
    """The value of the BIT STRING in a SubjectPublicKeyInfo (DER), without its unused-bits octet.

    SubjectPublicKeyInfo is a SEQUENCE of an AlgorithmIdentifier and the BIT STRING (RFC 5280, 4.1).
    """
    _, start, _ = _element(info, 0)
    _, _, after_algorithm = _element(info, start)
    _, bits, end = _element(info, after_algorithm)
    return info[bits + 1 : end]


def _element(data: bytes, at: int) -> tuple[int, int, int]:
    """Tag, start of the value and its end of the DER element at `at`."""
    length, start = data[at + 1], at + 2
    if length & 0x80:
        count = length & 0x7F
        length, start = int.from_bytes(data[start : start + count], "big"), start + count
    return data[at], start, start + length


def is_due(certificate: x509.Certificate, now: datetime, ahead: timedelta) -> bool:
    """Whether it ends within `ahead`, or has ended."""
    return certificate.not_valid_after_utc - now <= ahead
