"""The safe answers while nobody decides."""

from datetime import UTC, datetime, timedelta
from typing import Any

from csms.stations.told.deciders import NO_OWNER, Deciders, Nobody
from csms.stations.words.costs import VatNumberAsked
from csms.stations.words.limits import ScheduleUpdateAsked
from csms.stations.words.security import (
    CertificateAsked,
    CertificateHash,
    ChainLink,
    ChainStatusAsked,
    ContractCertificateAsked,
    RevocationAsked,
)

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
HASH = CertificateHash("sha256", "a1", "b2", "0c")


async def test_nobody_refuses_everything_with_a_reason() -> None:
    nobody = Nobody()
    answers: list[Any] = [
        await nobody.certificate_asked("BAY-01", CertificateAsked("MIIB"), NOW),
        await nobody.contract_asked("BAY-01", ContractCertificateAsked("2", "install", "gJgC"), NOW),
        await nobody.revocation_asked("BAY-01", RevocationAsked("sha256", "a", "b", "c", "http://x"), NOW),
        await nobody.vat_asked("BAY-01", VatNumberAsked("BE0000000097"), NOW),
    ]
    assert [(answer.accepted, answer.reason) for answer in answers] == [(False, NO_OWNER)] * 4
    # OCPP 2.0.1, StatusInfoType: reasonCode has 20 characters at most.
    assert len(NO_OWNER) <= 20


async def test_nobody_knows_no_dynamic_profile() -> None:
    assert (await Nobody().schedule_asked("BAY-01", ScheduleUpdateAsked(8), NOW)).update is None


async def test_the_state_of_a_chain_could_not_be_learned() -> None:
    asked = ChainStatusAsked((ChainLink(HASH, "ocsp"), ChainLink(HASH, "crl")))
    (first, second) = (await Nobody().chain_asked("BAY-01", asked, NOW)).statuses
    assert (first.hash, first.source, first.status) == (HASH, "ocsp", "failed")
    assert second.source == "crl"
    assert first.next_update == NOW + timedelta(days=1)


def test_at_first_nobody_decides() -> None:
    deciders = Deciders()
    ports = (deciders.signer, deciders.contracts, deciders.revocations, deciders.schedules, deciders.vat)
    assert all(isinstance(port, Nobody) for port in ports)
