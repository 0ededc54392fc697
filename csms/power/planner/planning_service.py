"""All of planning in one hand: for the composition root, and what the API asks."""

from collections.abc import Callable

from csms.access.members.service import MembersService
from csms.clock import Clock
from csms.cluster.relay import Relay
from csms.dispatch import Dispatcher
from csms.power.planner.base_service import BaseLoads, Meters
from csms.power.planner.handlers import NeedsHandlers
from csms.power.planner.market_service import market_prices
from csms.power.planner.needs_service import NeedsService
from csms.power.planner.planner_service import PlannerService, PlannerSettings
from csms.power.planner.prices_service import PricesService
from csms.power.service import PowerService
from csms.sessions.service import SessionsService
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.tariffs.market.service import MarketService


class Planning:
    """`needs`, `prices` and the `planner` itself."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        members: MembersService,
        sessions: SessionsService,
        meters: Meters,
        power: PowerService,
        market: MarketService,
        settings: PlannerSettings,
        tell: Callable[[str], None],
    ) -> None:
        self.needs = NeedsService(database, clock, members, sessions)
        self.prices = PricesService(database, clock, sites)
        self.prices.add_source(market_prices(market, sites))
        self.planner = PlannerService(
            database,
            clock,
            sites=sites,
            sessions=sessions,
            controllers=lambda: power.controllers,
            needs=self.needs,
            prices=self.prices,
            base=BaseLoads(database, sites, meters),
            settings=settings,
            tell=tell,
        )
        self._handlers = NeedsHandlers(self.needs, self.planner, sessions)

    def register(self, dispatcher: Dispatcher) -> None:
        """Own what cars tell of their needs."""
        self._handlers.register(dispatcher)

    def follow(self, relay: Relay) -> None:
        """Hear of what changes at sites."""
        relay.follow("site.", self.planner.site_fact)

    def start(self) -> None:
        self.planner.start()

    async def stop(self) -> None:
        await self.planner.stop()
