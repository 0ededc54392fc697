"""Market prices by the page: what is missing, a document sent in, sessions priced again."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import insert

from api.web.month_prices import feed_rows
from csms.app import Central
from csms.clock import ManualClock
from csms.ledger.period import Month
from csms.store.tables.sessions import session
from csms.store.tables.stations import station
from tests.api.web.treasurer import MONTH, PAGE, SITE, november
from tests.api.web.visitor import Visitor

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What the services do on both databases is tested with them."""

START = datetime.fromisoformat("2026-11-10T18:00:00+01:00")


def lines(first: datetime, hours: int) -> bytes:
    rows = [f"{(first + timedelta(hours=n)).isoformat()},800,NOK/MWh" for n in range(hours)]
    return "\n".join(["timestamp,price,unit", *rows]).encode()


@pytest.fixture
async def ready(central: Central, clock: ManualClock, yard: dict[str, Any], flat: dict[str, Any]) -> None:
    """A session of Flat 12 that nobody has priced: no tariff is assigned."""
    await central.market.create_feed(id="no1", name="Day ahead", currency="NOK")
    await november(central, clock)
    row = {"station_id": "bay-1", "site_id": SITE, "evse": 1, "connector": 1, "transaction_id": "t"}
    row |= {"state": "ended", "member_id": "flat-12", "token_text": "", "verdict": "accepted", "marks": {}}
    row |= {"started_at": START, "ended_at": START + timedelta(hours=2), "arrived_at": START}
    row |= {"register_start_wh": 0, "register_stop_wh": 8000, "energy_wh": 8000}
    async with central.database.write() as connection:
        place = {"id": "bay-1", "site_id": SITE, "registration": "accepted", "created_at": START}
        await connection.execute(insert(station).values(place))
        await connection.execute(insert(session).values(row))


async def test_what_is_missing_of_the_month_is_told(central: Central, ready: None) -> None:
    site = await central.sites.get_site(SITE)
    now = central.clock.now()
    (row,) = await feed_rows(central, site, Month.parse(MONTH), now)
    assert row.gaps == "01 Nov 00:00 to 01 Dec 00:00"
    first = datetime.fromisoformat("2026-11-01T00:00:00+01:00")
    await central.market.take_in("no1", lines(first, 24 * 29), "most of it")
    (row,) = await feed_rows(central, site, Month.parse(MONTH), now)
    assert row.gaps == "30 Nov 00:00 to 01 Dec 00:00"
    assert await feed_rows(central, site, Month.parse("2027-05"), now) != ()


async def test_a_document_is_sent_in_by_the_page(forewoman: Visitor, central: Central, ready: None) -> None:
    async def send(content: bytes) -> str:
        fields = {"form_token": await forewoman.form_token(), "month": MONTH, "feed_id": "no1"}
        files = {"document": ("prices.csv", content, "text/csv")}
        done = await forewoman.client.post(f"{PAGE}/prices/send", data=fields, files=files)
        return done.text

    assert "Prices from 10 Nov 18:00 to 10 Nov 2026 20:00 are kept" in await send(lines(START, 2))
    assert "That document was there already." in await send(lines(START, 2))
    assert "Not done: " in await send(b"when,what\nnow,cheap\n")
    assert "Not done: document: choose a file first." in await send(b"")
    (document,) = (await central.market.documents("no1")).items
    assert document.name == "prices.csv"


async def test_a_session_without_a_price_stops_the_close_until_it_has_one(
    forewoman: Visitor, central: Central, ready: None
) -> None:
    page = (await forewoman.get(PAGE)).text
    assert "1 session without a price" in page
    assert 'href="#market">Send prices, or price again</a>' in page
    assert 'Steps not done yet: <a href="#step-prices">prices</a>' in page
    refused = await forewoman.send(f"{PAGE}/prices/again", month=MONTH)
    assert "0 sessions priced; 1 session not, the first because: " in refused.text
    component = {"type": "ENERGY", "price": 2, "vat": 25, "step_size": 1}
    document = {"currency": "NOK", "elements": [{"price_components": [component]}]}
    tariff = await central.tariffs.create(site_id=SITE, name="Plain", document=document)
    await central.tariffs.assign(tariff.id, site_id=SITE)
    done = await forewoman.send(f"{PAGE}/prices/again", month=MONTH)
    assert "1 session priced." in done.text
    assert "every session has its price" in done.text


async def test_who_may_only_look_sends_nothing(onlooker: Visitor, central: Central, ready: None) -> None:
    refused = await onlooker.send(f"{PAGE}/prices/again", month=MONTH)
    assert refused.status_code == 403
    assert "Price again" not in (await onlooker.get(PAGE)).text
