"""Certificates, against `openssl` by way of `cryptography`'s OCSP builder, which names them as OCPP does."""

from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.x509 import ocsp

from csms.errors import InvalidInput
from csms.security.authority import LocalAuthority
from csms.security.certificate import facts, hash_of, is_due, read_pem, why_not_of_station

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
AUTHORITY = LocalAuthority.make("Weavers' Yard", NOW)
SERVERS = {
    kind: AUTHORITY.server(["yard.weavers.example"], kind, "Weavers' Yard", NOW) for kind in ("ec", "rsa")
}


@pytest.mark.parametrize("kind", ["ec", "rsa"])
def test_a_certificate_is_named_as_ocsp_names_it(kind: str) -> None:
    """RFC 6960, 4.1.1 (CertID); the library's request builder is the reference."""
    certificate = x509.load_pem_x509_certificate(SERVERS[kind].chain_pem.encode())
    request = ocsp.OCSPRequestBuilder().add_certificate(certificate, AUTHORITY.root, hashes.SHA256()).build()
    named = hash_of(certificate, AUTHORITY.root)
    assert named.issuer_name_hash == request.issuer_name_hash.hex()
    assert named.issuer_key_hash == request.issuer_key_hash.hex()
    assert int(named.serial_number, 16) == request.serial_number


def test_facts_of_a_certificate() -> None:
    shown = facts(read_pem("certificate", SERVERS["ec"].chain_pem))
    assert (shown.common_name, shown.organization) == ("yard.weavers.example", "Weavers' Yard")
    assert shown.not_before < NOW < shown.not_after
    assert is_due(read_pem("c", SERVERS["ec"].chain_pem), shown.not_after, timedelta(0))
    assert not is_due(read_pem("c", SERVERS["ec"].chain_pem), NOW, timedelta(days=30))


@pytest.mark.parametrize(
    ("names", "organization", "says"),
    [
        (("yard.weavers.example",), "Weavers' Yard", ""),
        (("YARD",), "", ""),
        (("SER-77", ""), "", "not of this station"),
        (("yard",), "Dye works", "not of Dye works"),
    ],
)
def test_whose_it_is(names: tuple[str, ...], organization: str, says: str) -> None:
    found = why_not_of_station(read_pem("c", SERVERS["ec"].chain_pem), names, organization)
    assert (says in found) if says else found == ""


def test_what_is_none_is_named() -> None:
    with pytest.raises(InvalidInput) as caught:
        read_pem("root", "nonsense")
    assert caught.value.field == "root"
