"""The owner of what stations tell and nobody else owns; it keeps each word before it is answered."""

from datetime import datetime
from typing import Any

from csms.dispatch import Dispatcher
from csms.stations import repository as stations
from csms.stations.encoding import plain
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.told import repository
from csms.stations.told.deciders import Deciders
from csms.stations.told.kinds import KEPT, fact_of, number_of, topic_of
from csms.stations.told.service import ToldService
from csms.stations.words.costs import VatNumberAnswer, VatNumberAsked
from csms.stations.words.limits import ScheduleUpdateAnswer, ScheduleUpdateAsked
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    ChainStatusAnswer,
    ChainStatusAsked,
    ContractCertificateAnswer,
    ContractCertificateAsked,
    RevocationAnswer,
    RevocationAsked,
)
from csms.store.database import Connection, Database

MOST_KEPT = 500


class ToldHandlers(ToldService):
    """Keeps, and reads as its service does. `deciders` may be given others until the first station calls.

    `most_kept`: of each kind and station.
    """

    def __init__(
        self, database: Database, deciders: Deciders | None = None, most_kept: int = MOST_KEPT
    ) -> None:
        super().__init__(database)
        self.deciders = deciders or Deciders()
        self._most_kept = most_kept

    async def keep(self, station_id: str, word: Event | Question, now: datetime) -> None:
        """Keep `word` and make it a fact; returns when both are on disk. An unknown station's is dropped."""
        kind, body, topic = KEPT[type(word)], plain(word), topic_of(type(word))

        async def work(connection: Connection) -> None:
            station = await stations.find_station(connection, station_id)
            if station is None:
                return
            await repository.insert_told(
                connection,
                station_id,
                kind=kind,
                at=now,
                evse=number_of(word, "evse"),
                request_id=number_of(word, "request_id"),
                body=body,
            )
            await repository.drop_oldest(connection, station_id, kind, self._most_kept)
            if topic is not None:
                await stations.tell(connection, topic, station, now, **fact_of(word, body))

        await self._database.writer.run(work)

    async def certificate(
        self, station_id: str, question: CertificateAsked, now: datetime
    ) -> CertificateAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.signer.certificate_asked(station_id, question, now)

    async def contract(
        self, station_id: str, question: ContractCertificateAsked, now: datetime
    ) -> ContractCertificateAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.contracts.contract_asked(station_id, question, now)

    async def revocation(self, station_id: str, question: RevocationAsked, now: datetime) -> RevocationAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.revocations.revocation_asked(station_id, question, now)

    async def chain(self, station_id: str, question: ChainStatusAsked, now: datetime) -> ChainStatusAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.revocations.chain_asked(station_id, question, now)

    async def schedule(
        self, station_id: str, question: ScheduleUpdateAsked, now: datetime
    ) -> ScheduleUpdateAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.schedules.schedule_asked(station_id, question, now)

    async def vat(self, station_id: str, question: VatNumberAsked, now: datetime) -> VatNumberAnswer:
        await self.keep(station_id, question, now)
        return await self.deciders.vat.vat_asked(station_id, question, now)

    def register(self, dispatcher: Dispatcher) -> None:
        """Own every word of the list."""
        deciding: dict[type[Any], Any] = {
            CertificateAsked: self.certificate,
            ContractCertificateAsked: self.contract,
            RevocationAsked: self.revocation,
            ChainStatusAsked: self.chain,
            ScheduleUpdateAsked: self.schedule,
            VatNumberAsked: self.vat,
        }
        for kind in KEPT:
            dispatcher.handle(kind, deciding.get(kind, self.keep))
