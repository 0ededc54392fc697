"""What stations tell is kept before it is answered, and who decides is asked."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from csms.dispatch import Dispatcher
from csms.stations.questions import TransactionReported, TransactionStep
from csms.stations.told.handlers import ToldHandlers
from csms.stations.told.kinds import KEPT
from csms.stations.told.service import ToldService
from csms.stations.words.costs import CostReported, StationAmount, VatNumberAsked
from csms.stations.words.firmware import FirmwareReported
from csms.stations.words.limits import LimitReported, ScheduleUpdateAnswer, ScheduleUpdateAsked
from csms.stations.words.monitoring import CustomerReported
from csms.stations.words.security import (
    CertificateAnswer,
    CertificateAsked,
    CertificateHash,
    ChainLink,
    ChainStatusAsked,
    ContractCertificateAsked,
    RevocationAsked,
    SecurityEventReported,
)
from csms.store.database import Database
from tests.csms.stations.conftest import Facts

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)


@pytest.fixture
def dispatcher(handlers: ToldHandlers) -> Dispatcher:
    dispatcher = Dispatcher()
    handlers.register(dispatcher)
    return dispatcher


@pytest.fixture
def handlers(database: Database) -> ToldHandlers:
    return ToldHandlers(database, most_kept=3)


async def test_a_word_is_kept_with_its_fact(
    dispatcher: Dispatcher, database: Database, bay: str, facts: Facts
) -> None:
    event = SecurityEventReported("TamperDetectionActivated", NOW, "lid\0 open")
    assert await dispatcher.ask(bay, event, NOW) is None
    await dispatcher.ask(bay, LimitReported("SO", 1, True), NOW)
    page = await ToldService(database).list_told(bay)
    assert [(told.kind, told.evse, told.at) for told in page.items] == [
        ("limit", 1, NOW),
        ("security_event", None, NOW),
    ]
    assert page.items[1].body == {
        "kind": "TamperDetectionActivated",
        "at": NOW.isoformat(),
        "info": "lid open",
    }
    (fact,) = await facts("station.security")
    assert (fact["subject"], fact["site_id"], fact["type"], fact["station"]) == (
        bay,
        "weavers-yard",
        "TamperDetectionActivated",
        "Bay 1",
    )
    assert [fact["topic"] for fact in await facts("station.limit")] == ["station.limit"]


async def test_of_each_kind_only_the_latest_stay(
    dispatcher: Dispatcher, database: Database, bay: str
) -> None:
    await dispatcher.ask(bay, LimitReported("SO"), NOW)
    for number in range(5):
        await dispatcher.ask(bay, FirmwareReported("downloading", number), NOW)
    page = await ToldService(database).list_told(bay, "firmware")
    assert [told.request_id for told in page.items] == [4, 3, 2]
    assert len((await ToldService(database).list_told(bay, "limit")).items) == 1


async def test_a_strangers_word_is_dropped(dispatcher: Dispatcher, facts: Facts, bay: str) -> None:
    assert await dispatcher.ask("nobody", FirmwareReported("idle"), NOW) is None
    assert await facts("station.firmware") == []


async def test_every_kind_has_its_owner(dispatcher: Dispatcher) -> None:
    assert dispatcher.unowned(KEPT) == []


async def test_questions_are_kept_and_refused_while_nobody_decides(
    dispatcher: Dispatcher, database: Database, bay: str
) -> None:
    hash = CertificateHash("sha256", "a1", "b2", "0c")
    questions: list[Any] = [
        CertificateAsked("MIIB"),
        ContractCertificateAsked("2", "install", "gJgC"),
        RevocationAsked("sha256", "a1", "b2", "0c", "http://ocsp.example/"),
        VatNumberAsked("BE0000000097", 1),
    ]
    for question in questions:
        assert (await dispatcher.ask(bay, question, NOW)).accepted is False
    chain = await dispatcher.ask(bay, ChainStatusAsked((ChainLink(hash, "ocsp"),)), NOW)
    assert [link.status for link in chain.statuses] == ["failed"]
    assert await dispatcher.ask(bay, ScheduleUpdateAsked(8), NOW) == ScheduleUpdateAnswer()
    kinds = [told.kind for told in (await ToldService(database).list_told(bay)).items]
    assert set(kinds) == {
        *(KEPT[type(question)] for question in questions),
        "chain_asked",
        "schedule_asked",
    }


class Workshop:
    """A signer of our own."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, CertificateAsked]] = []

    async def certificate_asked(
        self, station_id: str, question: CertificateAsked, now: datetime
    ) -> CertificateAnswer:
        self.asked.append((station_id, question))
        return CertificateAnswer(accepted=True)


async def test_who_takes_a_port_is_asked(handlers: ToldHandlers, dispatcher: Dispatcher, bay: str) -> None:
    workshop = Workshop()
    handlers.deciders.signer = workshop
    question = CertificateAsked("MIIB", request_id=5)
    assert await dispatcher.ask(bay, question, NOW) == CertificateAnswer(accepted=True)
    assert workshop.asked == [(bay, question)]


async def test_a_report_is_found_by_its_request(dispatcher: Dispatcher, database: Database, bay: str) -> None:
    for request_id in (6, 7):
        await dispatcher.ask(bay, CustomerReported(request_id, 0, True, "nothing"), NOW)
    page = await ToldService(database).list_told(bay, request_id=7)
    assert [told.body["request_id"] for told in page.items] == [7]


async def test_what_a_station_calculated_is_kept_beside_the_session(
    handlers: ToldHandlers, database: Database, bay: str, facts: Facts
) -> None:
    async def owner(_station_id: str, _step: TransactionReported, _now: datetime) -> None:
        return None

    dispatcher = Dispatcher()
    handlers.register(dispatcher)
    dispatcher.handle(TransactionReported, owner)
    cost = CostReported(currency="EUR", total=StationAmount(incl_tax=Decimal("3.03")))
    step = TransactionReported(step=TransactionStep.ENDED, transaction_id="b0e9", at=NOW, evse=1, cost=cost)
    await dispatcher.ask(bay, step, NOW)
    await dispatcher.ask(
        bay, TransactionReported(step=TransactionStep.ENDED, transaction_id="x", at=NOW), NOW
    )
    (told,) = (await ToldService(database).list_told(bay, "cost")).items
    assert (told.evse, told.body["transaction_id"], told.body["total"]["incl_tax"]) == (1, "b0e9", "3.03")
    assert [fact["told"]["currency"] for fact in await facts("station.cost")] == ["EUR"]
