"""Who may decide what stations ask for: ports that other features take, and the safe answers until then."""

from datetime import datetime, timedelta
from typing import Protocol

from csms.stations.words.costs import VatNumberAnswer, VatNumberAsked
from csms.stations.words.limits import ScheduleUpdateAnswer, ScheduleUpdateAsked
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    ChainStatusAnswer,
    ChainStatusAsked,
    ContractCertificateAnswer,
    ContractCertificateAsked,
    LinkStatus,
    RevocationAnswer,
    RevocationAsked,
)

NO_OWNER = "NoService"
"""The reason in a refusal where nobody decides (our own text; reason codes are advisory)."""
ASK_AGAIN = timedelta(days=1)


class Signer(Protocol):
    """Passes on a station's request for a certificate; the chain follows later by DeliverCertificate."""

    async def certificate_asked(
        self, station_id: str, question: CertificateAsked, now: datetime
    ) -> CertificateAnswer: ...


class Contracts(Protocol):
    """A contract service (ISO 15118) that installs and updates certificates of cars."""

    async def contract_asked(
        self, station_id: str, question: ContractCertificateAsked, now: datetime
    ) -> ContractCertificateAnswer: ...


class Revocations(Protocol):
    """Knows whether certificates are still good."""

    async def revocation_asked(
        self, station_id: str, question: RevocationAsked, now: datetime
    ) -> RevocationAnswer: ...

    async def chain_asked(
        self, station_id: str, question: ChainStatusAsked, now: datetime
    ) -> ChainStatusAnswer: ...


class Schedules(Protocol):
    """Gives the present values of a dynamic profile that it has sent."""

    async def schedule_asked(
        self, station_id: str, question: ScheduleUpdateAsked, now: datetime
    ) -> ScheduleUpdateAnswer: ...


class VatRegister(Protocol):
    """Knows companies by their VAT numbers."""

    async def vat_asked(
        self, station_id: str, question: VatNumberAsked, now: datetime
    ) -> VatNumberAnswer: ...


class Nobody:
    """Fits every port: refuses, so that a station goes on by itself."""

    async def certificate_asked(
        self, _station_id: str, _question: CertificateAsked, _now: datetime
    ) -> CertificateAnswer:
        return CertificateAnswer(accepted=False, reason=NO_OWNER)

    async def contract_asked(
        self, _station_id: str, _question: ContractCertificateAsked, _now: datetime
    ) -> ContractCertificateAnswer:
        return ContractCertificateAnswer(accepted=False, reason=NO_OWNER)

    async def revocation_asked(
        self, _station_id: str, _question: RevocationAsked, _now: datetime
    ) -> RevocationAnswer:
        return RevocationAnswer(accepted=False, reason=NO_OWNER)

    async def chain_asked(
        self, _station_id: str, question: ChainStatusAsked, now: datetime
    ) -> ChainStatusAnswer:
        """Whether they are good could not be learned; ask again tomorrow."""
        return ChainStatusAnswer(
            tuple(LinkStatus(link.hash, link.source, "failed", now + ASK_AGAIN) for link in question.links)
        )

    async def schedule_asked(
        self, _station_id: str, _question: ScheduleUpdateAsked, _now: datetime
    ) -> ScheduleUpdateAnswer:
        return ScheduleUpdateAnswer()

    async def vat_asked(self, _station_id: str, _question: VatNumberAsked, _now: datetime) -> VatNumberAnswer:
        return VatNumberAnswer(accepted=False, reason=NO_OWNER)


class Deciders:
    """Who decides now; a feature puts itself in the place of its port when the program is put together."""

    def __init__(self) -> None:
        nobody = Nobody()
        self.signer: Signer = nobody
        self.contracts: Contracts = nobody
        self.revocations: Revocations = nobody
        self.schedules: Schedules = nobody
        self.vat: VatRegister = nobody
