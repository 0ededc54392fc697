"""Station says, the session is priced: on both databases, through the outbox."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete, insert, update

from csms.access.groups.service import GroupsService
from csms.clock import ManualClock
from csms.cluster.relay import Relay
from csms.errors import Conflict, NotFound
from csms.sessions.session import Session
from csms.sites.service import SitesService
from csms.stations.model import EvseStatus, ReadingContext, TokenRef
from csms.store.database import Database
from csms.store.tables.access import membership
from csms.store.tables.sessions import session as sessions
from csms.store.tables.sites import site
from csms.store.tables.tariffs import tariff as tariffs
from csms.tariffs.document import load_json
from csms.tariffs.handlers import SessionPricing
from csms.tariffs.market.service import MarketService
from csms.tariffs.recorded import price_documents
from csms.tariffs.service import TariffsService
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2, CARD_7, FLAT_7, RESIDENTS, SITE, facts

PUBLISHED = Path(__file__).parents[2] / "published" / "ocpi_tariff_examples.json"
Document = Callable[..., dict[str, object]]


def published(example_id: str) -> dict[str, Any]:
    """The tariff of a worked example of OCPI."""
    examples: Any = load_json(PUBLISHED.read_text(encoding="utf-8"), PUBLISHED.name)
    [found] = [each["tariff"] for each in examples["examples"] if each["id"] == example_id]
    assert isinstance(found, dict)
    return found


@dataclass
class Yard:
    database: Database
    talk: Conversation
    tariffs: TariffsService
    pricing: SessionPricing
    relay: Relay

    async def tariff(self, document: dict[str, Any], **where: Any) -> str:
        made = await self.tariffs.create(site_id=SITE, name="Yard", document=document)
        await self.tariffs.assign(made.id, site_id=SITE, **where)
        return made.id

    async def hear(self) -> None:
        """Let the facts be heard that are in the outbox."""
        while await self.relay.deliver():
            pass

    async def charge(self, minutes: float, energy_wh: int, **start: Any) -> Session:
        """A session from minute 0 to `minutes`, and what it costs."""
        answer = await self.talk.starts(0, 0, **start)
        await self.talk.stops(minutes, answer.transaction_id, energy_wh)
        await self.hear()
        return await self.talk.one()

    async def told(self, topic: str) -> list[dict[str, Any]]:
        return [fact.body for fact in await facts(self.database, topic)]


@pytest.fixture
async def yard_talk(yard: Database, clock: ManualClock) -> Yard:
    talk = Conversation(yard, clock)
    await talk.let_in()
    tariffs = TariffsService(yard, clock)
    pricing = SessionPricing(
        yard,
        clock,
        sites=SitesService(yard, clock),
        groups=GroupsService(yard, clock),
        sessions=talk.sessions,
        tariffs=tariffs,
    )
    relay = Relay(yard, clock)
    pricing.follow(relay)
    return Yard(yard, talk, tariffs, pricing, relay)


def cents(session: Session) -> tuple[int | None, int | None]:
    return session.cost_excl_minor, session.cost_incl_minor


async def test_energy_start_fee_and_parking(yard_talk: Yard) -> None:
    """OCPI 2.2.1 mod_tariffs "0.25 per kWh + parking fee + start fee": 20 kWh, 40 minutes of parking."""
    talk = yard_talk.talk
    tariff_id = await yard_talk.tariff(published("T04"))
    answer = await talk.starts(0, 10_000)
    await talk.status(0, EvseStatus.CHARGING)
    await talk.meters(30, 20_000, answer.transaction_id)
    await talk.meters(60, 30_000, answer.transaction_id)
    await talk.status(60, EvseStatus.SUSPENDED_EV)
    await talk.stops(100, answer.transaction_id, 30_000)
    assert cents(await talk.one()) == (None, None)
    await yard_talk.hear()
    session = await talk.one()
    assert (session.tariff_id, session.currency) == (tariff_id, "EUR")
    assert cents(session) == (700, 790)
    assert isinstance(session.cost_lines, dict)
    used = {line["dimension"]: line["quantity"] for line in session.cost_lines["lines"]}
    assert used == {"FLAT": "1", "ENERGY": "20", "PARKING_TIME": "45"}, "40 min in steps of 900 s"
    assert "the only one that fits" in session.cost_lines["reason"]
    assert await yard_talk.told("session.priced") == [
        {
            "session": session.id,
            "station": BAY_1,
            "evse": 1,
            "member": session.member_id,
            "tariff": "Yard",
            "energy_wh": 20_000,
            "currency": "EUR",
            "cost_excl": "7.00",
            "cost_incl": "7.90",
        }
    ]


async def test_a_pause_of_ours_is_never_parking(yard_talk: Yard) -> None:
    """The same, but we held the car for 30 of the 40 minutes: 10, in steps of 900 s 15, are 0.50 + 20 %."""
    talk = yard_talk.talk
    await yard_talk.tariff(published("T04"))
    answer = await talk.starts(0, 10_000)
    await talk.meters(60, 30_000, answer.transaction_id)
    await talk.status(60, EvseStatus.SUSPENDED_EV)
    assert await talk.sessions.paused_by_us(BAY_1, 1, talk.at(65))
    assert await talk.sessions.resumed(BAY_1, 1, talk.at(95))
    await talk.stops(100, answer.transaction_id, 30_000)
    await yard_talk.hear()
    session = await talk.one()
    assert isinstance(session.cost_lines, dict)
    parking = [line for line in session.cost_lines["lines"] if line["dimension"] == "PARKING_TIME"]
    assert [line["quantity"] for line in parking] == ["5", "10"]
    assert "5 min added to bill whole blocks of 900 s" in parking[1]["reason"]
    # 0.50 + 5.00 + 0.50, and 0.60 + 5.50 + 0.60 with VAT.
    assert cents(session) == (600, 670)


async def test_pricing_twice_writes_and_tells_once(yard_talk: Yard) -> None:
    await yard_talk.tariff(published("T01"))
    session = await yard_talk.charge(60, 20_000)
    assert cents(session) == (500, 550)
    [ended] = await facts(yard_talk.database, "session.ended")
    await yard_talk.pricing.hear(1, ended)
    assert await yard_talk.pricing.price_again(session.id) == session
    assert await yard_talk.talk.one() == session
    assert len(await yard_talk.told("session.priced")) == 1


async def test_a_late_reading_prices_again_by_the_same_tariff(
    yard_talk: Yard, tariff_document: Document
) -> None:
    """A stop without a register: 10 kWh were known, the last sample comes late and makes it 20."""
    talk = yard_talk.talk
    first = await yard_talk.tariff(published("T01"))
    answer = await talk.starts(0, 0)
    await talk.meters(30, 10_000, answer.transaction_id)
    await talk.stops(60, answer.transaction_id, None)
    await yard_talk.hear()
    assert cents(await talk.one()) == (250, 275)
    # Another tariff is assigned for the same time: the session keeps the one it was priced by.
    await yard_talk.tariff(tariff_document((None, ("ENERGY", Decimal("0.90")))), station_id=BAY_1)
    await talk.meters(59, 20_000, answer.transaction_id, context=ReadingContext.END)
    await yard_talk.hear()
    session = await talk.one()
    assert session.tariff_id == first
    assert cents(session) == (500, 550)
    [corrected] = await yard_talk.told("session.corrected")
    assert (corrected["energy_before_wh"], corrected["energy_wh"]) == (10_000, 20_000)
    # An operator who asks gets the one that is assigned now.
    assert cents(await yard_talk.pricing.price_again(session.id)) == (1800, None)


async def test_a_register_that_starts_again_is_settled_first(yard_talk: Yard) -> None:
    """10 kWh, then the register starts at 0 and counts another 5: 15 kWh at 0.25, VAT 10 %."""
    talk = yard_talk.talk
    await yard_talk.tariff(published("T01"))
    answer = await talk.starts(0, 400_000)
    await talk.meters(30, 410_000, answer.transaction_id)
    await talk.meters(31, 0, answer.transaction_id)
    await talk.meters(60, 5_000, answer.transaction_id)
    await talk.stops(61, answer.transaction_id, 5_000)
    await yard_talk.hear()
    session = await talk.one()
    assert session.energy_wh == 15_000
    assert "register_reset" in session.marks
    assert cents(session) == (375, 413)


async def test_who_charges_decides_the_tariff(yard_talk: Yard, tariff_document: Document) -> None:
    """20 kWh: residents 0.20, guests 0.50, anyone else 0.30."""
    talk = yard_talk.talk
    for price, where in (("0.30", {}), ("0.20", {"group_id": RESIDENTS}), ("0.50", {"guests": True})):
        await yard_talk.tariff(tariff_document((None, ("ENERGY", Decimal(price)))), **where)
    for register, token in ((0, TokenRef("04A1B2C3D4")), (20_000, TokenRef(CARD_7)), (40_000, None)):
        answer = await talk.starts(register / 100, register, token=token)
        await talk.stops(register / 100 + 100, answer.transaction_id, register + 20_000)
    await yard_talk.hear()
    assert [session.cost_excl_minor for session in await talk.all()] == [400, 600, 1000]
    # Whoever joins the group afterwards keeps the price of then.
    async with yard_talk.database.write() as connection:
        await connection.execute(insert(membership).values(group_id=RESIDENTS, member_id=FLAT_7))
    assert await yard_talk.pricing.price_missing() == 0
    assert [session.cost_excl_minor for session in await talk.all()] == [400, 600, 1000]


async def test_without_a_tariff_nothing_is_written_and_the_reason_told(yard_talk: Yard) -> None:
    session = await yard_talk.charge(60, 20_000)
    assert (session.tariff_id, session.currency, session.cost_lines) == (None, None, None)
    [told] = await yard_talk.told("session.unpriced")
    assert told["session"] == session.id
    assert "no tariff is assigned" in told["reason"]
    with pytest.raises(Conflict, match="no tariff is assigned"):
        await yard_talk.pricing.price_again(session.id)
    # Once there is one, the start-up finds the session.
    await yard_talk.tariff(published("T01"))
    assert await yard_talk.pricing.price_missing() == 1
    assert cents(await yard_talk.talk.one()) == (500, 550)
    assert await yard_talk.pricing.price_missing() == 0
    assert len(await yard_talk.told("session.unpriced")) == 1


async def test_a_lost_fact_is_made_up_for_at_start_up(yard_talk: Yard) -> None:
    await yard_talk.tariff(published("T01"))
    answer = await yard_talk.talk.starts(0, 0)
    assert await yard_talk.pricing.price_missing() == 0, "it still runs"
    await yard_talk.talk.stops(60, answer.transaction_id, 20_000)
    assert await yard_talk.pricing.price_missing() == 1
    assert cents(await yard_talk.talk.one()) == (500, 550)


async def test_what_cannot_be_read_does_not_hold_up_the_others(yard_talk: Yard) -> None:
    talk = yard_talk.talk
    await yard_talk.tariff(published("T01"))
    broken = await yard_talk.tariff(published("T01"), station_id=BAY_1)
    async with yard_talk.database.write() as connection:
        spoiled = update(tariffs).where(tariffs.c.id == broken).values(document={"json": "{}"})
        await connection.execute(spoiled)
    for station in (BAY_2, BAY_1):
        answer = await talk.starts(0, 0, station)
        await talk.stops(60, answer.transaction_id, 20_000, station)
    assert await yard_talk.pricing.price_missing() == 1
    assert [cents(session) for session in await talk.all()] == [(500, 550), (None, None)]


async def test_a_refused_token_that_drew_nothing_pays_no_fee(
    yard_talk: Yard, tariff_document: Document
) -> None:
    await yard_talk.tariff(tariff_document((None, ("FLAT", Decimal("1.50")))))
    session = await yard_talk.charge(1, 0, token=TokenRef("DEADBEEF"))
    assert session.verdict == "unknown"
    assert (session.tariff_id, *cents(session)) == (None, 0, 0)
    assert await yard_talk.told("session.unpriced") == []


async def test_the_cost_so_far_grows_and_writes_nothing(yard_talk: Yard) -> None:
    talk = yard_talk.talk
    await yard_talk.tariff(published("T04"))
    answer = await talk.starts(0, 0)
    session = await talk.one()

    async def so_far(minutes: float) -> str:
        bill = await yard_talk.pricing.estimate(session.id, talk.at(minutes))
        assert bill.priced is not None
        return bill.priced.totals.excl.text()

    assert await so_far(0) == "0.50"
    await talk.meters(30, 10_000, answer.transaction_id)
    assert await so_far(30) == "3.00"
    await talk.meters(60, 20_000, answer.transaction_id)
    await talk.status(60, EvseStatus.SUSPENDED_EV)
    assert await so_far(60) == "5.50"
    assert await so_far(100) == "7.00"
    assert cents(await talk.one()) == (None, None)
    with pytest.raises(Conflict, match="still runs"):
        await yard_talk.pricing.price_again(session.id)
    await talk.stops(100, answer.transaction_id, 20_000)
    # Over: what it costs, whatever the hour.
    assert await so_far(10_000) == "7.00"
    with pytest.raises(NotFound):
        await yard_talk.pricing.estimate(999, talk.at(0))


async def test_the_tariff_of_the_start_prices_all_of_it(yard_talk: Yard, tariff_document: Document) -> None:
    talk = yard_talk.talk
    change = talk.at(30)
    await yard_talk.tariff(tariff_document((None, ("ENERGY", Decimal("0.10")))), valid_to=change)
    await yard_talk.tariff(tariff_document((None, ("ENERGY", Decimal("0.90")))), valid_from=change)
    assert cents(await yard_talk.charge(60, 20_000)) == (200, None)


async def test_a_station_on_no_site_has_no_price(yard_talk: Yard) -> None:
    answer = await yard_talk.talk.starts(0, 0)
    async with yard_talk.database.write() as connection:
        await connection.execute(update(sessions).values(site_id=None))
    yard_talk.talk.restart()
    await yard_talk.talk.stops(60, answer.transaction_id, 20_000)
    await yard_talk.hear()
    [told] = await yard_talk.told("session.unpriced")
    assert told["reason"] == "its station is on no site"


async def test_prices_by_the_hour_follow_the_clock_of_the_site(
    yard_talk: Yard, tariff_document: Document
) -> None:
    """The clock stands at noon in Brussels, 11:00 UTC: an hour each before and after 13:00 there."""
    await yard_talk.tariff(
        tariff_document(
            ({"end_time": "13:00"}, ("TIME", Decimal("1.00"))),
            (None, ("TIME", Decimal("3.00"))),
        )
    )
    session = await yard_talk.charge(120, 20_000)
    assert session.ended_at == session.started_at + timedelta(hours=2)
    assert cents(session) == (400, None)


async def test_what_is_kept_is_plain_json(yard_talk: Yard) -> None:
    await yard_talk.tariff(published("T04"))
    session = await yard_talk.charge(60, 20_000)
    assert json.loads(json.dumps(session.cost_lines)) == session.cost_lines


SPOT = {"type": "SPOT", "feed": "mill", "markup_per_kwh": Decimal("0.02")}


def quarters(first: str, *per_mwh: str) -> bytes:
    """Prices as lines of text, of 15 minutes each."""
    start = datetime.fromisoformat(first)
    lines = [
        f"{(start + i * timedelta(minutes=15)).isoformat()},{price},EUR/MWh"
        for i, price in enumerate(per_mwh)
    ]
    return "\n".join(["timestamp,price,unit", *lines]).encode()


async def spot_tariff(yard_talk: Yard, tariff_document: Document, *more: dict[str, Any]) -> MarketService:
    market = MarketService(yard_talk.database, yard_talk.talk.clock)
    await market.create_feed(id="mill", name="The mill's", currency="EUR")
    own = {"components": [SPOT, *more]}
    await yard_talk.tariff(tariff_document((None, ("ENERGY", Decimal("0.30"), 1, 25)), phaseyard=own))
    return market


async def test_a_session_waits_for_its_prices(yard_talk: Yard, tariff_document: Document) -> None:
    """12:00 to 12:30 with 4 kWh, told in three readings: 3 kWh in the first quarter at 100, 1 at -20."""
    market = await spot_tariff(yard_talk, tariff_document)
    talk = yard_talk.talk
    await market.take_in("mill", quarters("2026-11-02T11:15:00Z", "-20.00", "7"), "the second half")
    answer = await talk.starts(0, 0)
    await talk.meters(15, 3000, answer.transaction_id)
    await talk.stops(30, answer.transaction_id, 4000)
    await yard_talk.hear()
    assert cents(await talk.one()) == (None, None)
    [told] = await yard_talk.told("session.unpriced")
    assert told["reason"] == (
        "waiting for the market's prices of mill from 2026-11-02T11:00:00Z to 2026-11-02T11:15:00Z"
    )
    await market.take_in("mill", quarters("2026-11-02T10:45:00Z", "5", "100.00"), "the first half")
    await yard_talk.hear()
    session = await talk.one()
    # 3 x 0.10 - 1 x 0.02 + 4 x 0.02 = 0.36, with 25 % VAT 0.45.
    assert cents(session) == (36, 45)
    lines = session.cost_lines["lines"]
    assert [(line["dimension"], line["quantity"], line["price"]) for line in lines] == [
        ("SPOT", "3", "0.1"),
        ("SPOT_MARKUP", "4", "0.02"),
        ("SPOT", "-1", "0.02"),
    ]
    assert [line.get("interpolated") for line in lines] == [False, None, False], "read at the quarter"
    assert [line["reason"] for line in lines if "market" in line] == [
        "elements[0] follows the market",
        "elements[0] follows the market, below zero: credited",
    ]
    assert len(json.dumps(lines[0])) < 450, "a session keeps one for every interval"
    documents = (await market.documents("mill")).items
    assert {line["market"]["document"] for line in lines if "market" in line} == {
        document.id for document in documents
    }
    assert len(await yard_talk.told("session.priced")) == 1


async def test_a_corrected_document_prices_again_and_keeps_what_was(
    yard_talk: Yard, tariff_document: Document
) -> None:
    market = await spot_tariff(yard_talk, tariff_document)
    first = await market.take_in("mill", quarters("2026-11-02T11:00:00Z", *["100"] * 8), "early")
    session = await yard_talk.charge(60, 10_000)
    assert cents(session) == (120, 150)
    flags = [line["interpolated"] for line in session.cost_lines["lines"] if "market" in line]
    assert flags == [True] * 4, "between start and stop nothing was read"
    known = yard_talk.talk.clock.now()
    yard_talk.talk.clock.advance(3600)
    second = await market.take_in("mill", quarters("2026-11-02T11:00:00Z", *["90"] * 8), "corrected")
    for _ in range(2):
        await yard_talk.hear()
        again = await yard_talk.talk.one()
        assert cents(again) == (110, 138)
        assert again.cost_lines["earlier"] == [
            {"cost_excl_minor": 120, "cost_incl_minor": 150, "documents": [first.document.id]}
        ]
        [fact] = [f for f in await facts(yard_talk.database, "prices.stored") if f.body["corrects"]]
        await yard_talk.pricing.hear_prices(1, fact)
    assert len(await yard_talk.told("session.priced")) == 2
    assert price_documents(again.cost_lines) == {"mill": {second.document.id}}
    # What was priced then can be looked up as it was known then.
    then = await market.series("mill", session.started_at, known, known_at=known)
    assert {price.per_mwh for price in then.prices} == {Decimal(100)}


async def test_other_sessions_are_left_alone_by_a_correction(
    yard_talk: Yard, tariff_document: Document
) -> None:
    market = await spot_tariff(yard_talk, tariff_document)
    await market.take_in("mill", quarters("2026-11-02T11:00:00Z", *["100"] * 8), "early")
    await yard_talk.charge(30, 10_000)
    await market.take_in("mill", quarters("2026-11-02T12:00:00Z", *["1"] * 8), "later")
    await yard_talk.hear()
    assert len(await yard_talk.told("session.priced")) == 1
    assert "earlier" not in (await yard_talk.talk.one()).cost_lines


async def test_a_discount_goes_by_the_groups_of_then(yard_talk: Yard, tariff_document: Document) -> None:
    off = {"type": "DISCOUNT", "name": "Residents", "percent": 50, "groups": [RESIDENTS]}
    market = await spot_tariff(yard_talk, tariff_document, off)
    session = await yard_talk.charge(60, 10_000)
    assert cents(session) == (None, None)
    await market.take_in("mill", quarters("2026-11-02T11:00:00Z", *["100"] * 8), "prices")
    await yard_talk.hear()
    assert cents(await yard_talk.talk.one()) == (60, 75)
    async with yard_talk.database.write() as connection:
        await connection.execute(delete(membership))
    await market.take_in("mill", quarters("2026-11-02T11:00:00Z", *["200"] * 8), "corrected")
    await yard_talk.hear()
    assert cents(await yard_talk.talk.one()) == (110, 138), "still half"


async def test_a_site_that_is_billed_in_another_currency_is_not_priced(yard_talk: Yard) -> None:
    await yard_talk.tariff(published("T01"))
    async with yard_talk.database.write() as connection:
        await connection.execute(update(site).values(currency="SEK"))
    await yard_talk.charge(60, 20_000)
    [told] = await yard_talk.told("session.unpriced")
    assert told["reason"] == "it cannot be priced: currency: tariff Yard is in EUR, the site in SEK"
