"""A market's feed as a source of prices for plans."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from csms.money import Currency
from csms.power.planner.market_service import market_prices
from csms.tariffs.market.series import MarketPrice, PriceSeries
from tests.conftest import NOON

HOUR = timedelta(hours=1)


async def test_the_only_feed_in_the_sites_currency_counts(world: Any, monkeypatch: Any) -> None:
    market = world.central.market
    source = market_prices(market, world.central.sites)
    assert await source("yard", NOON, NOON + HOUR) is None
    await market.create_feed(id="no1", name="Day ahead", currency="NOK")
    await market.create_feed(id="de", name="Elsewhere", currency="EUR")
    assert await source("yard", NOON, NOON + HOUR) is None, "it has no prices yet"

    async def series(feed_id: str, start: datetime, end: datetime) -> PriceSeries:
        price = MarketPrice(start=start, end=end, per_mwh=Decimal("845.50"))
        return PriceSeries(feed_id=feed_id, currency=Currency("NOK"), prices=(price,))

    monkeypatch.setattr(market, "series", series)
    found = await source("yard", NOON, NOON + HOUR)
    assert found is not None
    assert (found.currency, found.slices[0].per_kwh) == ("NOK", Decimal("0.84550"))
    assert found.source == "market prices of Day ahead"
    await market.create_feed(id="no2", name="Another", currency="NOK")
    assert await source("yard", NOON, NOON + HOUR) is None, "nobody knows which of them"
