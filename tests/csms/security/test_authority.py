"""Our own authority; what it signs is verified by `cryptography`'s path validation (RFC 5280)."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.x509.oid import NameOID
from cryptography.x509.verification import PolicyBuilder, Store

from csms.errors import InvalidInput
from csms.security.authority import LocalAuthority, key_pem, read_request

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
AUTHORITY = LocalAuthority.make("Weavers' Yard", NOW)


def request(name: str, key: Any = None) -> str:
    key = key or ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    algorithm = None if isinstance(key, ed25519.Ed25519PrivateKey) else hashes.SHA256()
    csr = x509.CertificateSigningRequestBuilder().subject_name(subject).sign(key, algorithm)
    return csr.public_bytes(serialization.Encoding.PEM).decode()


def test_a_station_gets_what_leads_to_the_root() -> None:
    issued = AUTHORITY.station(read_request(request("SER-77"), ["SER-77"]), "Weavers' Yard", NOW)
    leaf, root = x509.load_pem_x509_certificates(issued.chain_pem.encode())
    assert root == AUTHORITY.root
    assert issued.key_pem == "", "a station's key never leaves it"
    verifier = PolicyBuilder().store(Store([AUTHORITY.root])).time(NOW + timedelta(days=700))
    assert verifier.build_client_verifier is not None
    leaf.verify_directly_issued_by(AUTHORITY.root)
    assert leaf.not_valid_after_utc == NOW + timedelta(days=730)


@pytest.mark.parametrize("kind", ["ec", "rsa"])
def test_a_server_is_known_by_its_names(kind: str) -> None:
    issued = AUTHORITY.server(["yard.weavers.example", "192.0.2.7"], kind, "Weavers' Yard", NOW)
    leaf = x509.load_pem_x509_certificate(issued.chain_pem.encode())
    verifier = (
        PolicyBuilder()
        .store(Store([AUTHORITY.root]))
        .time(NOW)
        .build_server_verifier(x509.DNSName("yard.weavers.example"))
    )
    assert verifier.verify(leaf, [])[-1] == AUTHORITY.root


def test_it_is_loaded_as_it_was_made() -> None:
    again = LocalAuthority.load(AUTHORITY.root_pem, AUTHORITY.root_key_pem)
    assert again.root == AUTHORITY.root
    other = LocalAuthority.make("Dye works", NOW)
    with pytest.raises(ValueError, match="not that of the root"):
        LocalAuthority.load(AUTHORITY.root_pem, other.root_key_pem)


@pytest.mark.parametrize(
    ("csr", "says"),
    [
        ("nonsense", "no signing request"),
        (request("SER-78"), "SER-78, not for this station"),
        (request("SER-77", rsa.generate_private_key(65537, 1024)), "RSA from 2048"),
        (request("SER-77", ec.generate_private_key(ec.SECP192R1())), "EC from 224"),
        (request("SER-77", ed25519.Ed25519PrivateKey.generate()), "RSA from 2048"),
    ],
)
def test_a_request_that_is_not_signed_says_why(csr: str, says: str) -> None:
    with pytest.raises(InvalidInput, match=says) as caught:
        read_request(csr, ["SER-77", ""])
    assert caught.value.field == "csr"


def test_a_request_whose_signature_is_wrong() -> None:
    der = bytearray(
        x509.load_pem_x509_csr(request("SER-77").encode()).public_bytes(serialization.Encoding.DER)
    )
    der[-3] ^= 1
    text = x509.load_der_x509_csr(bytes(der)).public_bytes(serialization.Encoding.PEM).decode()
    with pytest.raises(InvalidInput, match="own key"):
        read_request(text, ["SER-77"])


def test_rsa_of_full_length_is_taken() -> None:
    key = rsa.generate_private_key(65537, 2048)
    assert read_request(request("wy SER-77", key), ["ser-77"]).common_name == "wy SER-77"
    assert "PRIVATE KEY" in key_pem(key)
