"""Security events, certificates of stations, certificates of contracts (OCPP blocks A and M)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class CertificateUse(StrEnum):
    """What a certificate is for. `CENTRAL_ROOT`: by which a station knows us."""

    CENTRAL_ROOT = "central_root"
    MANUFACTURER_ROOT = "manufacturer_root"
    V2G_ROOT = "v2g_root"
    MO_ROOT = "mo_root"
    OEM_ROOT = "oem_root"
    V2G_CHAIN = "v2g_chain"
    STATION = "station"
    V2G = "v2g"
    V2G20 = "v2g20"


@dataclass(frozen=True, slots=True)
class CertificateHash:
    """How a certificate is named: hashes of issuer and its key (hex), and its serial number (hex)."""

    algorithm: str
    issuer_name_hash: str
    issuer_key_hash: str
    serial_number: str


@dataclass(frozen=True, slots=True)
class SecurityEventReported:
    """Something that touches security; `kind` is the standard's name of it, or the maker's own.

    `at` None: the station gave no time that can be read.
    """

    kind: str
    at: datetime | None = None
    info: str = ""


@dataclass(frozen=True, slots=True)
class CertificateAsked:
    """A station wants its key signed. Answer: CertificateAnswer; the chain follows by DeliverCertificate.

    `csr`: a signing request in PEM. `request_id` is to be named in the delivery when it is given.
    """

    csr: str
    use: str = CertificateUse.STATION
    request_id: int | None = None
    root: CertificateHash | None = None


@dataclass(frozen=True, slots=True)
class CertificateAnswer:
    """`accepted`: we pass the request on, no more than that. `reason`: at most 20 characters."""

    accepted: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ContractCertificateAsked:
    """A car wants a contract certificate (ISO 15118). Answer: ContractCertificateAnswer."""

    schema_version: str
    action: str
    exi_request: str
    most_chains: int | None = None
    prioritized_emaids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ContractCertificateAnswer:
    """`exi_response` of a contract service, or a refusal."""

    accepted: bool
    exi_response: str = ""
    remaining_contracts: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RevocationAsked:
    """Is this certificate still good (OCSP)? Answer: RevocationAnswer."""

    algorithm: str
    issuer_name_hash: str
    issuer_key_hash: str
    serial_number: str
    responder_url: str


@dataclass(frozen=True, slots=True)
class RevocationAnswer:
    """`ocsp_result`: the responder's answer, DER in base64; a refusal carries none."""

    accepted: bool
    ocsp_result: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ChainLink:
    """One certificate of a chain, where its state can be learned (`source`: crl or ocsp)."""

    hash: CertificateHash
    source: str
    urls: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ChainStatusAsked:
    """Are these certificates still good? Answer: ChainStatusAnswer."""

    links: tuple[ChainLink, ...]


@dataclass(frozen=True, slots=True)
class LinkStatus:
    """`status`: good, revoked, unknown or failed; ask again at `next_update`."""

    hash: CertificateHash
    source: str
    status: str
    next_update: datetime


@dataclass(frozen=True, slots=True)
class ChainStatusAnswer:
    statuses: tuple[LinkStatus, ...]


@dataclass(frozen=True, slots=True)
class DeliverCertificate:
    """The signed certificate and what leads to its root, in PEM, leaf first."""

    chain: str
    use: CertificateUse = CertificateUse.STATION
    request_id: int | None = None


@dataclass(frozen=True, slots=True)
class InstallCertificate:
    """Trust this root; PEM."""

    use: CertificateUse
    certificate: str


@dataclass(frozen=True, slots=True)
class DeleteCertificate:
    hash: CertificateHash


@dataclass(frozen=True, slots=True)
class GetCertificates:
    """`data`: tuple[InstalledCertificate, ...]. OCPP 1.6 asks for one use at a time."""

    uses: tuple[CertificateUse, ...] = ()


@dataclass(frozen=True, slots=True)
class InstalledCertificate:
    """A certificate in a station's store, and those below it."""

    use: str
    hash: CertificateHash
    children: tuple[CertificateHash, ...] = ()
