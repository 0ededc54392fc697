"""A small certificate authority of our own, for sites that have none. Pure but for random keys.

One root, by which stations know us and we know stations. Lengths of keys and lives are common
practice; RSA from 2048 bits, curves from 224 (OCPP 2.0.1 A00, NIST SP 800-57). Keys of stations never
leave them: they send a signing request.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from csms.errors import InvalidInput
from csms.security.certificate import name_part

ROOT_LIFE = timedelta(days=20 * 365)
SERVER_LIFE = timedelta(days=397)
STATION_LIFE = timedelta(days=2 * 365)
EARLIER = timedelta(hours=1)
"""Valid from a little before now: clocks of stations are off."""

SHORTEST_RSA, SHORTEST_EC = 2048, 224
Key = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey


@dataclass(frozen=True, slots=True)
class Issued:
    """Leaf first, then what leads to the root; the key only when we made it."""

    chain_pem: str
    key_pem: str = ""


def new_key(kind: str) -> Key:
    """`ec`: P-256; `rsa`: 2048 bits."""
    if kind == "rsa":
        return rsa.generate_private_key(public_exponent=65537, key_size=2048)
    return ec.generate_private_key(ec.SECP256R1())


def key_pem(key: Key) -> str:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ).decode()


def pem(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()


PublicKey = ec.EllipticCurvePublicKey | rsa.RSAPublicKey


@dataclass(frozen=True, slots=True)
class SigningRequest:
    """What a station asks to have signed; its own signature was checked."""

    common_name: str
    public_key: PublicKey


class LocalAuthority:
    """Signs by the root's `key`."""

    def __init__(self, root: x509.Certificate, key: ec.EllipticCurvePrivateKey) -> None:
        self.root = root
        self._key = key

    @classmethod
    def make(cls, organization: str, now: datetime) -> "LocalAuthority":
        """A new root of `organization`."""
        key = ec.generate_private_key(ec.SECP256R1())
        name = _name(f"{organization} charging root", organization)
        builder = _builder(name, name, key.public_key(), now, ROOT_LIFE)
        builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        builder = builder.add_extension(_usage(signs_certificates=True), critical=True)
        return cls(builder.sign(key, hashes.SHA256()), key)

    @classmethod
    def load(cls, root_pem: str, key_text: str) -> "LocalAuthority":
        """From what `key_text` and `root_pem` gave. Raises ValueError when they are none, or no pair."""
        key = serialization.load_pem_private_key(key_text.encode(), None)
        root = x509.load_pem_x509_certificate(root_pem.encode())
        if not isinstance(key, ec.EllipticCurvePrivateKey) or root.public_key() != key.public_key():
            raise ValueError("the key is not that of the root")
        return cls(root, key)

    @property
    def root_pem(self) -> str:
        return pem(self.root)

    @property
    def root_key_pem(self) -> str:
        return key_pem(self._key)

    def server(self, names: Sequence[str], kind: str, organization: str, now: datetime) -> Issued:
        """A key of `kind` and a certificate for a server that goes by `names` (DNS names or addresses)."""
        key = new_key(kind)
        subject = _name(names[0], organization)
        builder = _builder(subject, self.root.subject, key.public_key(), now, SERVER_LIFE)
        alternatives = x509.SubjectAlternativeName([_general(name) for name in names])
        builder = builder.add_extension(alternatives, critical=False)
        builder = builder.add_extension(_usage(encrypts=kind == "rsa"), critical=True)
        builder = builder.add_extension(
            x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False
        )
        return Issued(pem(self._sign(builder)) + self.root_pem, key_pem(key))

    def station(
        self, request: SigningRequest, organization: str, now: datetime, life: timedelta = STATION_LIFE
    ) -> Issued:
        """The certificate that a station asks for."""
        subject = _name(request.common_name, organization)
        builder = _builder(subject, self.root.subject, request.public_key, now, life)
        builder = builder.add_extension(_usage(), critical=True)
        builder = builder.add_extension(
            x509.ExtendedKeyUsage([ExtendedKeyUsageOID.CLIENT_AUTH]), critical=False
        )
        return Issued(pem(self._sign(builder)) + self.root_pem)

    def _sign(self, builder: x509.CertificateBuilder) -> x509.Certificate:
        issuer = self.root.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
        builder = builder.add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(issuer), critical=False
        )
        builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        return builder.sign(self._key, hashes.SHA256())


def read_request(text: str, names: Sequence[str]) -> SigningRequest:
    """The signing request of a station that goes by `names`. Raises InvalidInput (`csr`): no request, a
    bad signature, a weak key, or somebody else's name."""
    try:
        csr = x509.load_pem_x509_csr(text.encode())
    except ValueError:
        raise InvalidInput("csr", "is no signing request in PEM") from None
    try:
        sound = csr.is_signature_valid
    except (InvalidSignature, ValueError, TypeError):
        sound = False
    if not sound:
        raise InvalidInput("csr", "is not signed by its own key")
    key = csr.public_key()
    shortest = SHORTEST_RSA if isinstance(key, rsa.RSAPublicKey) else SHORTEST_EC
    if not isinstance(key, ec.EllipticCurvePublicKey | rsa.RSAPublicKey) or key.key_size < shortest:
        raise InvalidInput("csr", f"needs a key of RSA from {SHORTEST_RSA} bits or EC from {SHORTEST_EC}")
    common_name = name_part(csr.subject, NameOID.COMMON_NAME)
    if not any(name and name.casefold() in common_name.casefold() for name in names):
        raise InvalidInput("csr", f"is for {common_name or 'nobody'}, not for this station")
    return SigningRequest(common_name, key)


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: PublicKey,
    now: datetime,
    life: timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - EARLIER)
        .not_valid_after(now + life)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _name(common_name: str, organization: str) -> x509.Name:
    parts = [x509.NameAttribute(NameOID.COMMON_NAME, common_name[:64])]
    if organization:
        parts.append(x509.NameAttribute(NameOID.ORGANIZATION_NAME, organization[:64]))
    return x509.Name(parts)


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _usage(*, signs_certificates: bool = False, encrypts: bool = False) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True,
        key_encipherment=encrypts,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
