"""The market's prices as a source for plans: of the one feed that a site can mean."""

from datetime import datetime

from csms.power.planner.prices import Prices, PriceSlice, PriceSource
from csms.sites.service import SitesService
from csms.store.paging import every
from csms.tariffs.market.service import MarketService


def market_prices(market: MarketService, sites: SitesService) -> PriceSource:
    """Prices of the only feed in the site's currency; where there are several, nobody knows which."""

    async def over(site_id: str, start: datetime, end: datetime) -> Prices | None:
        currency = (await sites.get_site(site_id)).currency
        feeds = [feed for feed in await every(market.list_feeds) if feed.currency.code == currency]
        if len(feeds) != 1:
            return None
        series = await market.series(feeds[0].id, start, end)
        slices = tuple(PriceSlice(each.start, each.end, each.per_kwh) for each in series.prices)
        return Prices(currency, slices, f"market prices of {feeds[0].name}") if slices else None

    return over
