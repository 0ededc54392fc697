"""The planner at work: when to plan, with what, and who is told.

A site is planned anew when a car comes or goes, when a need or a price is another, when the base load is
away from its forecast, and every quarter of an hour; what happens within two seconds is one plan. Only
sites that are shared by the strategy `planned` have plans; of all others the base load is kept for the
forecast. When there is no plan to be had (no solver, a dead or slow process), it is tried once more, and
then the site goes on without one and says so.
"""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from csms.clock import Clock
from csms.errors import Conflict, NotFound
from csms.power.controller import SiteController
from csms.power.installation import Evse
from csms.power.planner.base_service import BaseLoads
from csms.power.planner.forecast import Forecast, forecast, strays
from csms.power.planner.gather import Gathered, gather
from csms.power.planner.need import Goal, goal
from csms.power.planner.needs_service import NeedsService
from csms.power.planner.prices import per_slot
from csms.power.planner.prices_service import PricesService
from csms.power.planner.problem import Solution
from csms.power.planner.schedule import Schedule, schedule, site_plan
from csms.power.planner.slots import Slots, slots_from
from csms.power.planner.worker_service import NoPlan, Worker
from csms.power.sharing.strategies import PLANNED
from csms.power.steering.evse_of import evse_of
from csms.sessions.news import SessionNews
from csms.sessions.service import SessionsService
from csms.sessions.session import OPEN, Session
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.tasks import Tasks

log = logging.getLogger(__name__)

JOIN_S = 2.0
LOOK_EVERY_S = 60.0
VALID_S = 2400.0
"""A plan is followed for so long; a new one comes every quarter of an hour."""
STRAYS_BY_A = 5.0
STRAYS_AGAIN_S = 300.0
MOST_STATES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannerSettings:
    """`quantile` of the base load; `assumed_wh`: what a car is taken to need of which nothing was told."""

    quantile: float = 0.85
    assumed_wh: float = 20_000.0
    time_limit_s: float = 10.0


@dataclass(frozen=True, slots=True)
class PlanShown:
    """The plan that the site goes by, or why there is none; `fault`: why the last one was not made."""

    schedule: Schedule | None
    fault: str


class PlannerService:
    """`controllers` gives what steers each active site; `tell` is called when a site's plan is new."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        sessions: SessionsService,
        controllers: Callable[[], Mapping[str, SiteController]],
        needs: NeedsService,
        prices: PricesService,
        base: BaseLoads,
        settings: PlannerSettings,
        tell: Callable[[str], None],
        worker: Worker | None = None,
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._sessions = sessions
        self._controllers = controllers
        self._needs = needs
        self._prices = prices
        self._base = base
        self._settings = settings
        self._tell = tell
        self._worker = worker or Worker()
        self._tasks = Tasks()
        self._causes: dict[str, set[str]] = {}
        self._running: set[str] = set()
        self._shown: dict[str, PlanShown] = {}
        self._forecasts: dict[str, tuple[Slots, Forecast]] = {}
        self._strayed_s: dict[str, float] = {}
        self._soc: dict[int, tuple[float, float]] = {}
        needs.changed = lambda site_id: self.poke(site_id, "a need has changed")
        prices.changed = lambda site_id: self.poke(site_id, "prices have changed")

    # What others ask

    async def shown(self, site_id: str) -> PlanShown:
        """The site's plan. Raises NotFound, and Conflict for a site that has none by its own will."""
        site = await self._sites.get_site(site_id)
        if not site.active:
            raise Conflict(f"site {site_id} is not active, so nothing is planned there")
        if site.strategy.value != PLANNED.name:
            raise Conflict(
                f"site {site_id} is shared by {site.strategy.value!r}; set its strategy to {PLANNED.name!r}"
            )
        return self._shown.get(site_id, PlanShown(None, "the first plan is being made"))

    def plans(self, station_id: str) -> str | None:
        """The id of the planned site that the station is at; None: nothing is planned there."""
        for site_id, controller in self._controllers().items():
            if any(evse.station_id == station_id for evse in controller.state.bays):
                return site_id if _is_planned(controller) else None
        return None

    # What it is told

    def poke(self, site_id: str, cause: str) -> None:
        """Plan the site soon."""
        controller = self._controllers().get(site_id)
        if controller is None or not (_is_planned(controller) or site_id in self._shown):
            return
        self._ask(site_id, cause)

    def _ask(self, site_id: str, cause: str) -> None:
        self._causes.setdefault(site_id, set()).add(cause)
        if site_id not in self._running:
            self._running.add(site_id)
            self._tasks.spawn(self._plan_while_asked(site_id), f"plan of {site_id}")

    def session_news(self, news: SessionNews) -> None:
        """A session began, went on or ended (`csms.sessions.handlers.SessionHandlers.follow`)."""
        reading = news.reading
        if reading is not None and reading.soc_percent is not None and len(self._soc) < MOST_STATES:
            self._soc[news.session_id] = (reading.soc_percent, float(news.energy_wh))
        gone = news.state not in OPEN
        if gone:
            self._soc.pop(news.session_id, None)
        if gone or news.began:
            site_id = self.plans(news.station_id)
            if site_id is not None:
                self.poke(site_id, "a car has left" if gone else "a car has come")

    async def site_fact(self, _number: int, fact: Fact) -> None:
        """A site's records are others (follower of the outbox)."""
        if fact.site_id is not None:
            # The controller is being made anew meanwhile; if that takes longer, the next look finds it.
            self._ask(fact.site_id, "the site has changed")

    # Its life

    def start(self) -> None:
        self._tasks.spawn(self._look_around(), "the planner's clock")

    async def stop(self) -> None:
        """Plan nothing any more; what was planned lapses by itself."""
        await self._tasks.close()
        await self._worker.close()

    async def _look_around(self) -> None:
        while True:
            for site_id, controller in self._controllers().items():
                try:
                    await self._look(site_id, controller)
                except Exception:
                    log.exception("the planner's look at %s failed", site_id)
            await self._clock.sleep(LOOK_EVERY_S)

    async def _look(self, site_id: str, controller: SiteController) -> None:
        now, state = self._clock.now(), controller.state
        if await self._base.seen(site_id, state, controller.now_s, now):
            self.poke(site_id, "a quarter of an hour is over")
        if _is_planned(controller) and site_id not in self._shown:
            self.poke(site_id, "it has no plan yet")
        if site_id not in self._forecasts or not state.meters:
            return
        slots, expected = self._forecasts[site_id]
        slot = slots.whole_before(now)
        again_s = self._strayed_s.get(site_id, 0.0) + STRAYS_AGAIN_S
        if slot < len(slots) and controller.now_s >= again_s:
            measured = {id: a for id, a in state.base_a(controller.now_s).items() if id in state.readings}
            if strays(expected.at(slot), measured) > STRAYS_BY_A:
                self._strayed_s[site_id] = controller.now_s
                self.poke(site_id, "the building takes more than was forecast")

    async def _plan_while_asked(self, site_id: str) -> None:
        try:
            while site_id in self._causes:
                await self._clock.sleep(JOIN_S)
                causes = self._causes.pop(site_id)
                log.debug("plan of %s: %s", site_id, ", ".join(sorted(causes)))
                await self._plan(site_id)
        finally:
            self._causes.pop(site_id, None)
            self._running.discard(site_id)

    async def _plan(self, site_id: str) -> None:
        controller = self._controllers().get(site_id)
        if controller is None or not _is_planned(controller):
            self._shown.pop(site_id, None)
            if controller is not None and controller.state.plan is not None:
                controller.planned(None)
            return
        now = self._clock.now()
        try:
            gathered = await self._gather(site_id, controller, now)
            solution = await self._solve(gathered)
        except NotFound:
            return
        except NoPlan as error:
            controller.planned(None)
            await self._show(site_id, PlanShown(None, str(error)), now)
            return
        self._forecasts[site_id] = (gathered.slots, gathered.forecast)
        current = self._controllers().get(site_id)
        if current is not None:
            current.planned(site_plan(gathered, solution, now, VALID_S))
        await self._show(site_id, PlanShown(schedule(gathered, solution, now), ""), now)

    async def _solve(self, gathered: Gathered) -> Solution:
        if not gathered.problem.cars:
            return Solution()
        try:
            return await self._worker.solve(gathered.problem)
        except NoPlan as error:
            log.warning("no plan, tried once more: %s", error)
            return await self._worker.solve(gathered.problem)

    async def _show(self, site_id: str, shown: PlanShown, now: datetime) -> None:
        before = self._shown.get(site_id)
        self._shown[site_id] = shown
        failed = bool(shown.fault)
        if failed != bool(before and before.fault):
            topic = "plan.failed" if failed else "plan.made_again"
            fact = Fact(topic=topic, at=now, site_id=site_id, subject=site_id, body={"fault": shown.fault})
            async with self._database.write() as connection:
                await put(connection, fact)
        self._tell(site_id)

    async def _gather(self, site_id: str, controller: SiteController, now: datetime) -> Gathered:
        slots = slots_from(now)
        site = await self._sites.get_site(site_id)
        open_sessions = await self._sessions.open_sessions(site_id)
        told = await self._needs.of_sessions(open_sessions)
        prices = await self._prices.over(site_id, slots.edges[0], slots.edges[-1])
        samples = await self._base.samples(site_id, controller.state, now)
        state = controller.state
        goals: dict[Evse, tuple[int, Goal]] = {}
        for session in open_sessions:
            evse = evse_of(state, session.station_id, session.evse)
            bay = None if evse is None else state.bays.get(evse)
            charge = None if bay is None else bay.charge
            if evse is None or charge is None or charge.transaction != _transaction(session):
                continue
            for_it, usual = told[session.id]
            goals[evse] = (
                session.id,
                goal(
                    for_it,
                    usual,
                    arrival=session.started_at,
                    zone=ZoneInfo(site.time_zone),
                    charged_wh=charge.energy_wh,
                    assumed_wh=self._settings.assumed_wh,
                    soc=self._soc.get(session.id),
                ),
            )
        expected = forecast(state.network.installation, samples, slots, quantile=self._settings.quantile)
        return gather(
            state,
            goals,
            slots,
            per_slot(slots, prices),
            expected,
            now,
            time_limit_s=self._settings.time_limit_s,
        )


def _is_planned(controller: SiteController) -> bool:
    return controller.state.network.installation.strategy is PLANNED


def _transaction(session: Session) -> str:
    return session.transaction_id or str(session.id)
