"""Tests that read like the conversation they check: station says, we answer."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from csms.access.rights.service import RightsService
from csms.access.verdict.service import Judge
from csms.clock import ManualClock
from csms.dispatch import Dispatcher
from csms.metering.service import ReadingsService
from csms.sessions.filing_service import Filing
from csms.sessions.handlers import SessionHandlers
from csms.sessions.lanes_service import Lanes
from csms.sessions.news import SessionNews
from csms.sessions.service import SessionsService
from csms.sessions.session import Session, SessionFilter
from csms.stations.events import MetersReported, StatusReported
from csms.stations.model import EvseStatus, Reading, ReadingContext, TokenRef
from csms.stations.questions import TransactionAnswer, TransactionReported, TransactionStep
from csms.store.database import Database
from tests.csms.yard import BAY_1, CARD_12, FLAT_7, FLAT_12, SITE


class Conversation:
    """One node, and a station that talks to it. Minutes count from where the clock stood at first."""

    def __init__(self, database: Database, clock: ManualClock) -> None:
        self.database = database
        self.clock = clock
        self.origin = clock.now()
        self.news: list[SessionNews] = []
        self.restart()

    def restart(self) -> None:
        """A new process on the same database: nothing is left in memory."""
        self.readings = ReadingsService(self.database)
        self.filing = Filing(self.database, Judge(self.database), self.readings)
        self.lanes = Lanes(self.database, self.filing)
        self.handlers = SessionHandlers(self.database, self.filing, self.lanes, self.readings)
        self.sessions = SessionsService(self.database, self.clock, self.readings, self.filing, self.lanes)
        self.handlers.follow(self.news.append)
        self.dispatcher = Dispatcher()
        self.handlers.register(self.dispatcher)

        async def receipt(_station_id: str, _event: StatusReported, _now: datetime) -> None:
            """The owner of statuses, who is another one."""

        self.dispatcher.handle(StatusReported, receipt)

    async def let_in(self) -> None:
        """Both flats may charge on the whole site."""
        rights = RightsService(self.database, self.clock)
        await rights.give(site_id=SITE, member_id=FLAT_12)
        await rights.give(site_id=SITE, member_id=FLAT_7)

    def at(self, minutes: float) -> datetime:
        return self.origin + timedelta(minutes=minutes)

    def arrive(self, minutes: float) -> None:
        """Let the time of arrival be no earlier than that."""
        ahead = (self.at(minutes) - self.clock.now()).total_seconds()
        if ahead > 0:
            self.clock.advance(ahead)

    async def says(self, event: object, station: str = BAY_1) -> Any:
        return await self.dispatcher.ask(station, event, self.clock.now())

    # OCPP 1.6: we give the transaction its id

    def start(self, minutes: float, register_wh: int | None, **more: Any) -> TransactionReported:
        report = TransactionReported(
            step=TransactionStep.BEGAN,
            transaction_id=None,
            at=self.at(minutes),
            evse=1,
            connector=1,
            token=TokenRef(CARD_12),
            register_wh=register_wh,
        )
        return replace(report, **more)

    def stop(
        self, minutes: float, transaction_id: str | None, register_wh: int | None, **more: Any
    ) -> TransactionReported:
        report = TransactionReported(
            step=TransactionStep.ENDED,
            transaction_id=transaction_id,
            at=self.at(minutes),
            register_wh=register_wh,
        )
        return replace(report, **more)

    async def starts(
        self, minutes: float, register_wh: int | None, station: str = BAY_1, **more: Any
    ) -> TransactionAnswer:
        self.arrive(minutes)
        answer = await self.says(self.start(minutes, register_wh, **more), station)
        assert isinstance(answer, TransactionAnswer)
        return answer

    async def stops(
        self,
        minutes: float,
        transaction_id: str | None,
        register_wh: int | None,
        station: str = BAY_1,
        **more: Any,
    ) -> TransactionAnswer:
        self.arrive(minutes)
        answer = await self.says(self.stop(minutes, transaction_id, register_wh, **more), station)
        assert isinstance(answer, TransactionAnswer)
        return answer

    async def meters(
        self,
        minutes: float,
        register_wh: int | None,
        transaction_id: str | None,
        evse: int | None = 1,
        station: str = BAY_1,
        **more: Any,
    ) -> None:
        self.arrive(minutes)
        reading = replace(self.reading(minutes, register_wh), **more)
        assert await self.says(MetersReported(evse, (reading,), transaction_id), station) is None

    def reading(
        self,
        minutes: float,
        register_wh: int | None,
        context: ReadingContext = ReadingContext.PERIODIC,
    ) -> Reading:
        return Reading(at=self.at(minutes), context=context, register_wh=register_wh)

    async def status(self, minutes: float, status: EvseStatus, evse: int = 1, station: str = BAY_1) -> None:
        self.arrive(minutes)
        await self.says(StatusReported(evse, 1, status, at=self.at(minutes)), station)

    # OCPP 2.x: the station gives it

    def event(
        self, step: TransactionStep, sequence: int, minutes: float, *readings: Reading, **more: Any
    ) -> TransactionReported:
        report = TransactionReported(
            step=step,
            transaction_id="tx-a",
            at=self.at(minutes),
            evse=1,
            sequence=sequence,
            readings=readings,
        )
        return replace(report, **more)

    # What became of it

    async def all(self, station: str | None = None) -> list[Session]:
        page = await self.sessions.list(SessionFilter(station_id=station), limit=100)
        return list(reversed(page.items))

    async def one(self) -> Session:
        (session,) = await self.all()
        return session

    async def registers(self, session_id: int) -> list[int | None]:
        page = await self.sessions.samples(session_id)
        return [stored.reading.register_wh for stored in page.items]
