"""The ledger's services, made once and tied to each other."""

from csms.access.ownerships.service import OwnershipsService
from csms.clock import Clock
from csms.ledger.billing.service import BillingService
from csms.ledger.books.service import BooksService
from csms.ledger.gathering.service import Gathering
from csms.ledger.issuing.service import IssuingService
from csms.ledger.payments.service import PaymentsService
from csms.ledger.pools.service import PoolsService
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.tariffs.handlers import SessionPricing
from csms.tariffs.market.service import MarketService
from csms.tariffs.service import TariffsService


class Ledger:
    """`billing` (terms, addresses), `pools`, `issuing`, `payments`, `books`."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        ownerships: OwnershipsService,
        tariffs: TariffsService,
        market: MarketService,
        pricing: SessionPricing,
    ) -> None:
        self._clock, self._pricing = clock, pricing
        self.billing = BillingService(database, clock)
        self.pools = PoolsService(database, clock, self.billing)
        gathering = Gathering(
            billing=self.billing,
            pools=self.pools,
            ownerships=ownerships,
            tariffs=tariffs,
            market=market,
            exact=self._exact_cost,
        )
        self.issuing = IssuingService(database, clock, sites=sites, gathering=gathering)
        self.payments = PaymentsService(database, clock, self.billing, sites)
        self.books = BooksService(database, clock, sites=sites, gathering=gathering)

    async def _exact_cost(self, session_id: int) -> int | None:
        bill = await self._pricing.estimate(session_id, self._clock.now())
        return None if bill.priced is None else bill.priced.totals.excl.minor
