"""Prices by site: those that were put by REST, and other sources behind them."""

from collections.abc import Callable, Sequence
from datetime import datetime

from csms.clock import Clock
from csms.errors import InvalidInput, NotFound
from csms.power.planner import repository
from csms.power.planner.prices import Prices, PriceSlice, PriceSource, check_prices
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact, put

BY_REST = "prices that were put for this site"


class PricesService:
    """`changed` is called with a site's id whenever prices there are others."""

    def __init__(self, database: Database, clock: Clock, sites: SitesService) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._sources: list[PriceSource] = []
        self.changed: Callable[[str], None] = lambda _: None

    def add_source(self, source: PriceSource) -> None:
        """Ask `source` too, after those that were put and those added before."""
        self._sources.append(source)

    async def get(self, site_id: str) -> Prices:
        """What was put for the site. Raises NotFound."""
        await self._sites.get_site(site_id)
        async with self._database.read() as connection:
            found = await repository.get_prices(connection, site_id)
        if found is None:
            raise NotFound("prices of site", site_id)
        return found

    async def replace(self, site_id: str, currency: str, slices: Sequence[PriceSlice]) -> Prices:
        """These in place of what was put before. Raises NotFound, InvalidInput."""
        site = await self._sites.get_site(site_id)
        if currency != site.currency:
            raise InvalidInput("currency", f"must be the site's, {site.currency}, not {currency!r}")
        order = check_prices(currency, slices)
        await self._write(site_id, currency, order)
        return Prices(currency, order)

    async def forget(self, site_id: str) -> None:
        """Take back what was put; other sources count. Raises NotFound."""
        found = await self.get(site_id)
        await self._write(site_id, found.currency, ())

    async def _write(self, site_id: str, currency: str, slices: Sequence[PriceSlice]) -> None:
        fact = Fact(topic="price.changed", at=self._clock.now(), site_id=site_id, subject=site_id, body={})
        async with self._database.write() as connection:
            await repository.replace_prices(connection, site_id, currency, slices)
            await put(connection, fact)
        self.changed(site_id)

    async def over(self, site_id: str, start: datetime, end: datetime) -> Prices | None:
        """Prices from the first source that knows any of the interval; None: nobody does."""
        async with self._database.read() as connection:
            found = await repository.get_prices(connection, site_id, start, end)
        if found is not None:
            return Prices(found.currency, found.slices, BY_REST)
        for source in self._sources:
            found = await source(site_id, start, end)
            if found is not None and found.slices:
                return found
        return None
