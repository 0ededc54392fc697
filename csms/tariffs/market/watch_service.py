"""Asks the sources of all feeds on their schedule; what goes wrong is kept with the feed and shown."""

import logging
from pathlib import Path

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.paging import every
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.inputs import parse_source
from csms.tariffs.market.inputs.source import Around, Found, SourceFault
from csms.tariffs.market.service import MarketService
from csms.tasks import Tasks

log = logging.getLogger(__name__)

LOOK_S = 30.0
RETRY_S = 300.0
"""How soon a source is asked again that failed, at most as long as its own interval."""


class PriceWatch:
    """`data_dir` has the folders `prices` and `secrets`."""

    def __init__(self, market: MarketService, clock: Clock, data_dir: Path) -> None:
        self._market = market
        self._clock = clock
        self._data_dir = data_dir
        self._seen: dict[str, dict[str, object]] = {}
        self._tasks = Tasks()

    def start(self) -> None:
        self._tasks.spawn(self._loop(), "price feeds")

    async def stop(self) -> None:
        await self._tasks.close()

    async def check_due(self) -> None:
        """Ask every source whose time has come."""
        now = self._clock.now()
        for feed in await every(self._market.list_feeds):
            if feed.source is None:
                continue
            try:
                wait_s = parse_source(feed.source, "source").every_s
            except InvalidInput as error:
                await self._market.checked(feed.id, str(error))
                continue
            if feed.fault:
                wait_s = min(wait_s, RETRY_S)
            if feed.checked_at is None or (now - feed.checked_at).total_seconds() >= wait_s:
                await self.check(feed.id)

    async def check(self, feed_id: str) -> Feed:
        """Ask the feed's source now; the feed after it, its `fault` says what was wrong.

        Raises NotFound, and Conflict when it has no source.
        """
        feed = await self._market.get_feed(feed_id)
        if feed.source is None:
            raise Conflict(f"feed {feed.name} has no source; send its documents")
        fault = ""
        around = Around(
            prices=self._data_dir / "prices",
            secrets=self._data_dir / "secrets",
            now=self._clock.now(),
            seen=self._seen.setdefault(feed_id, {}),
        )
        try:
            async for found in parse_source(feed.source, "source").fetch(around):
                wrong = await self._take(feed_id, found)
                fault = fault or wrong
                if not wrong:
                    around.seen[found.name] = found.mark
        except (SourceFault, InvalidInput) as error:
            fault = str(error)
        return await self._market.checked(feed_id, fault)

    async def _take(self, feed_id: str, found: Found) -> str:
        """What is wrong with the document; "" when nothing is."""
        try:
            await self._market.take_in(feed_id, found.raw, found.name)
        except (InvalidInput, Conflict) as error:
            if found.may_lack:
                return ""
            return f"{found.name}: {error}"
        return ""

    async def _loop(self) -> None:
        while True:
            try:
                await self.check_due()
            except NotFound:
                pass  # a feed that was removed meanwhile
            except Exception:
                log.exception("price feeds could not be looked after")
            await self._clock.sleep(LOOK_S)
