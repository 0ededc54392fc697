"""The state of chains of certificates in OCPP 2.1 (block M; the rest is as in 2.0.1)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.times import write_time
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.security import CertificateHash, ChainStatusAnswer, ChainStatusAsked

MOST_LINKS = 4

STATUSES: Mapping[str, str] = {"good": "Good", "revoked": "Revoked", "unknown": "Unknown", "failed": "Failed"}


def write_chain(question: ChainStatusAsked, answer: object, now: datetime) -> Payload:
    """GetCertificateChainStatusResponse."""
    said: ChainStatusAnswer = expect(answer, ChainStatusAnswer)
    statuses = [
        {
            "certificateHashData": write_hash(each.hash),
            "source": each.source.upper(),
            "status": STATUSES[each.status],
            "nextUpdate": write_time(each.next_update),
        }
        for each in said.statuses[:MOST_LINKS]
    ]
    return {"certificateStatus": statuses}


def write_hash(hash: CertificateHash) -> Payload:
    """CertificateHashData."""
    return {
        "hashAlgorithm": hash.algorithm.upper(),
        "issuerNameHash": hash.issuer_name_hash,
        "issuerKeyHash": hash.issuer_key_hash,
        "serialNumber": hash.serial_number,
    }


INBOUND: Mapping[str, Heard | Spelled] = {
    "GetCertificateChainStatus": Spelled(ChainStatusAsked, {"links": "certificateStatusRequests"}),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {ChainStatusAsked: write_chain}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {}
