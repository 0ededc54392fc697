"""A charge that follows the market: prices fetched from an address, late, and then corrected."""

import asyncio
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta

import pytest

from api.node import Node
from tests.scenarios.charger import Charger
from tests.scenarios.rest import Json, Rest, until
from tests.scenarios.site import CARDS, SITE

STATION = "corner-16"
DAY = datetime(2026, 11, 11, 23, tzinfo=UTC)
ONE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What differs between the databases is tried where the SQL is."""


class Market:
    """A market's server: one price for all hours of the days it has, in quarters of an hour."""

    def __init__(self) -> None:
        self.price = ""
        self.revision = 1
        self.port = 0
        self.asked: list[str] = []

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        path = (await reader.readuntil(b"\r\n\r\n")).split(b" ", 2)[1].decode()
        self.asked.append(path)
        body = self._document() if self.price and "2026-11-12" in path else b""
        status = "200 OK" if body else "404 Not Found"
        head = f"HTTP/1.1 {status}\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        writer.write(head.encode() + body)
        await writer.drain()
        writer.close()

    def _document(self) -> bytes:
        """Curve A03: the first position says it for the whole day."""
        end = DAY + timedelta(days=1)
        return (
            f"<Publication_MarketDocument><mRID>day</mRID><revisionNumber>{self.revision}</revisionNumber>"
            "<type>A44</type><TimeSeries><in_Domain.mRID>10YNL----------L</in_Domain.mRID>"
            "<currency_Unit.name>EUR</currency_Unit.name><price_Measure_Unit.name>MWH</price_Measure_Unit.name>"
            f"<curveType>A03</curveType><Period><timeInterval><start>{DAY:%Y-%m-%dT%H:%MZ}</start>"
            f"<end>{end:%Y-%m-%dT%H:%MZ}</end></timeInterval><resolution>PT15M</resolution>"
            f"<Point><position>1</position><price.amount>{self.price}</price.amount></Point>"
            "</Period></TimeSeries></Publication_MarketDocument>"
        ).encode()


@pytest.fixture
async def market(monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Market]:
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
    made = Market()
    server = await asyncio.start_server(made.serve, "127.0.0.1", 0)
    made.port = server.sockets[0].getsockname()[1]
    yield made
    server.close()
    await server.wait_closed()


async def cost(rest: Rest, excl: str | None) -> Json:
    """The station's one session, ended, once it costs that."""

    async def ask() -> Json | None:
        (session,) = await rest.sessions(STATION)
        return session if not session["open"] and session["cost_excl"] == excl else None

    return await until(ask, f"a cost of {excl}", timeout_s=60)


@ONE
async def test_prices_come_late_and_are_corrected(
    node: Node, rest: Rest, chargers: dict[str, Charger], market: Market
) -> None:
    """20 kWh at 100.00 EUR/MWh and two cents on top: 2.40; at 90.00: 2.20."""
    source = {"kind": "url", "url": f"http://127.0.0.1:{market.port}/{{date}}"}
    feed = {"id": "nl", "name": "Day ahead", "currency": "EUR", "source": source}
    await rest.post("/market-prices/feeds", feed)
    energy = {"type": "ENERGY", "price": 0.3, "vat": 21, "step_size": 1}
    spot = {"type": "SPOT", "feed": "nl", "markup_per_kwh": 0.02}
    document: Json = {"currency": "EUR", "elements": [{"price_components": [energy]}]}
    document["phaseyard"] = {"components": [spot]}
    await rest.post("/tariffs", {"id": "spot", "site_id": SITE, "name": "Spot", "document": document})
    await rest.post("/tariffs/spot/assignments", {"site_id": SITE, "station_id": STATION})

    charger = chargers["1.6"]
    await charger.dial()
    await charger.boot()
    await charger.available(node.central.clock.now())
    now = node.central.clock.now()
    await charger.start(CARDS[STATION], now - timedelta(hours=1), 1000)
    await charger.stop(node.central.clock.now(), 21_000)
    waiting = await cost(rest, None)
    failed = await rest.post("/market-prices/feeds/nl/fetch")
    assert failed["fault"].endswith("/2026-11-12 answers 404 Not Found")

    market.price = "100.00"
    assert (await rest.post("/market-prices/feeds/nl/fetch"))["fault"] == ""
    session = await cost(rest, "2.40")
    assert (session["id"], session["cost_incl"]) == (waiting["id"], "2.90")
    (first,) = (await rest.get("/market-prices/feeds/nl/documents"))["items"]
    lines = [line for line in session["cost_lines"]["lines"] if line["dimension"] == "SPOT"]
    assert {line["market"]["document"] for line in lines} == {first["id"]}
    assert 4 <= len(lines) <= 6

    market.price, market.revision = "90.00", 2
    await rest.post("/market-prices/feeds/nl/fetch")
    again = await cost(rest, "2.20")
    assert again["cost_lines"]["earlier"] == [
        {"cost_excl_minor": 240, "cost_incl_minor": 290, "documents": [first["id"]]}
    ]
