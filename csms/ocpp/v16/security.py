"""Security events and certificates in OCPP 1.6 (security white paper edition 2, section 5)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.adapter import Unsupported
from csms.ocpp.fields import Fields
from csms.ocpp.keys import our_word
from csms.ocpp.texts import clean
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect, status_of
from csms.stations.commands import Command, CommandResult
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    CertificateHash,
    CertificateUse,
    DeleteCertificate,
    DeliverCertificate,
    GetCertificates,
    InstallCertificate,
    InstalledCertificate,
    SecurityEventReported,
)

USES: Mapping[CertificateUse, str] = {
    CertificateUse.CENTRAL_ROOT: "CentralSystemRootCertificate",
    CertificateUse.MANUFACTURER_ROOT: "ManufacturerRootCertificate",
}


def write_signing(question: CertificateAsked, answer: object, now: datetime) -> Payload:
    said: CertificateAnswer = expect(answer, CertificateAnswer)
    return {"status": "Accepted" if said.accepted else "Rejected"}


def write_get(command: GetCertificates) -> Payload | Unsupported:
    if len(command.uses) != 1 or command.uses[0] not in USES:
        return Unsupported(f"uses: OCPP 1.6 asks for one of {', '.join(USES)}")
    return {"certificateType": USES[command.uses[0]]}


def read_get(command: GetCertificates, said: Fields) -> CommandResult:
    """The answer does not repeat what was asked for, so it is taken from the command."""
    data = tuple(
        InstalledCertificate(command.uses[0] if command.uses else "", read_hash(each))
        for each in said.parts("certificateHashData")
    )
    return CommandResult(*status_of(said), data)


def read_hash(said: Fields) -> CertificateHash:
    """CertificateHashData; what is missing is empty."""
    algorithm = clean(said.raw("hashAlgorithm"), 20)
    names = ("issuerNameHash", "issuerKeyHash", "serialNumber")
    return CertificateHash(our_word(algorithm) if algorithm else "", *(said.text(name) for name in names))


INBOUND: Mapping[str, Heard | Spelled] = {
    "SecurityEventNotification": Spelled(SecurityEventReported),
    "SignCertificate": Spelled(CertificateAsked),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {CertificateAsked: write_signing}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    DeliverCertificate: Ordered("CertificateSigned"),
    InstallCertificate: Ordered("InstallCertificate"),
    DeleteCertificate: Ordered("DeleteCertificate"),
    GetCertificates: Asked("GetInstalledCertificateIds", write_get, read_get),
}
