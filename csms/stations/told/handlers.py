"""The owner of what stations tell and nobody else owns; it keeps each word before it is answered."""

from datetime import datetime
from typing import Any

from csms.dispatch import Dispatcher
from csms.stations import repository as stations
from csms.stations.encoding import plain
from csms.stations.events import Event
from csms.stations.questions import Question, TransactionReported
from csms.stations.told import repository
from csms.stations.told.deciders import Deciders
from csms.stations.told.kinds import COST, KEPT, fact_of, number_of, topic_of
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
        body = plain(word)
        await self._keep(
            station_id,
            KEPT[type(word)],
            body,
            now,
            evse=number_of(word, "evse"),
            request_id=number_of(word, "request_id"),
            topic=topic_of(type(word)),
            fact=fact_of(word, body),
        )

    async def _keep(
        self,
        station_id: str,
        kind: str,
        body: Any,
        now: datetime,
        *,
        evse: int | None = None,
        request_id: int | None = None,
        topic: str | None = None,
        fact: dict[str, Any] | None = None,
    ) -> None:
        async def work(connection: Connection) -> None:
            station = await stations.find_station(connection, station_id)
            if station is None:
                return
            await repository.insert_told(
                connection, station_id, kind=kind, at=now, evse=evse, request_id=request_id, body=body
            )
            await repository.drop_oldest(connection, station_id, kind, self._most_kept)
            if topic is not None:
                await stations.tell(connection, topic, station, now, **(fact or {"told": body}))

        await self._database.writer.run(work)

    async def keep_cost(self, station_id: str, event: TransactionReported, now: datetime) -> None:
        """Keep what a station calculated for a transaction; it is no price of ours."""
        if event.cost is not None:
            body = {"transaction_id": event.transaction_id, "step": event.step.value, **plain(event.cost)}
            await self._keep(station_id, COST, body, now, evse=event.evse, topic=f"station.{COST}")

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
        """Own every word of the list; follow transactions for what stations calculate."""
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
        dispatcher.listen(TransactionReported, self.keep_cost)
