"""Security events, certificates, revocation in OCPP 2.x (blocks A and M)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    ContractCertificateAnswer,
    ContractCertificateAsked,
    DeleteCertificate,
    DeliverCertificate,
    GetCertificates,
    InstallCertificate,
    InstalledCertificate,
    RevocationAnswer,
    RevocationAsked,
    SecurityEventReported,
)

LONGEST_REASON = 20


def consent(accepted: bool, reason: str, refusal: str = "Rejected") -> Payload:
    """A status, and the reason where there is one (StatusInfo.reasonCode)."""
    wire: Payload = {"status": "Accepted" if accepted else refusal}
    if reason:
        wire["statusInfo"] = {"reasonCode": reason[:LONGEST_REASON]}
    return wire


def write_signing(question: CertificateAsked, answer: object, now: datetime) -> Payload:
    said: CertificateAnswer = expect(answer, CertificateAnswer)
    return consent(said.accepted, said.reason)


def write_contract(question: ContractCertificateAsked, answer: object, now: datetime) -> Payload:
    """The text for the car must be there even when there is none."""
    said: ContractCertificateAnswer = expect(answer, ContractCertificateAnswer)
    wire = consent(said.accepted, said.reason, "Failed") | {"exiResponse": said.exi_response}
    if said.remaining_contracts is not None:
        wire["remainingContracts"] = said.remaining_contracts
    return wire


def write_revocation(question: RevocationAsked, answer: object, now: datetime) -> Payload:
    said: RevocationAnswer = expect(answer, RevocationAnswer)
    wire = consent(said.accepted, said.reason, "Failed")
    if said.ocsp_result:
        wire["ocspResult"] = said.ocsp_result
    return wire


INBOUND: Mapping[str, Heard | Spelled] = {
    "SecurityEventNotification": Spelled(SecurityEventReported),
    "SignCertificate": Spelled(CertificateAsked),
    "Get15118EVCertificate": Spelled(
        ContractCertificateAsked,
        {"schema_version": "iso15118SchemaVersion", "most_chains": "maximumContractCertificateChains"},
    ),
    "GetCertificateStatus": Spelled(
        RevocationAsked,
        {
            "algorithm": "ocspRequestData.hashAlgorithm",
            "issuer_name_hash": "ocspRequestData.issuerNameHash",
            "issuer_key_hash": "ocspRequestData.issuerKeyHash",
            "serial_number": "ocspRequestData.serialNumber",
            "responder_url": "ocspRequestData.responderURL",
        },
    ),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {
    CertificateAsked: write_signing,
    ContractCertificateAsked: write_contract,
    RevocationAsked: write_revocation,
}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    DeliverCertificate: Ordered("CertificateSigned"),
    InstallCertificate: Ordered("InstallCertificate"),
    DeleteCertificate: Ordered("DeleteCertificate"),
    GetCertificates: Ordered(
        "GetInstalledCertificateIds",
        {"uses": "certificateType"},
        gives=(InstalledCertificate, "certificateHashDataChain"),
    ),
}
