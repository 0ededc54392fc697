"""Power, as the rest of the program holds it: one controller per active site, kept up to date.

What sessions and stations do is told to the controllers; what they decide goes to the stations
as profiles and, where a car is held or let go by us, to its session (a pause by us is not idle
time). When a site's records change its controller is made anew: promises outlive it in the
database.
"""

import logging
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from csms.access.groups.service import GroupsService
from csms.clock import Clock
from csms.errors import InvalidInput, NotFound
from csms.power.controller import SiteController
from csms.power.fallback import overloads_in_silence
from csms.power.holding_service import Holding
from csms.power.installation import Evse, Installation, Line
from csms.power.notices_service import Conditions
from csms.power.offering_service import Commands, Offering
from csms.power.promises_service import KeptPromises
from csms.power.records import installation, meters
from csms.power.setup_service import SetUp, StationSetUp, wanted
from csms.power.signals.service import CapSignals
from csms.power.steering.bay import Charge
from csms.power.steering.evse_of import evse_of
from csms.power.steering.notices import Notice
from csms.power.steering.picture import SiteShown
from csms.power.steering.timing import Timing
from csms.power.wiring_service import Heard
from csms.sessions.news import SessionNews
from csms.sessions.service import SessionsService
from csms.sessions.session import OPEN, Session
from csms.sites.model import Circuit
from csms.sites.service import SitesService
from csms.stations.model import (
    NO_LINES,
    ChargingState,
    PerLine,
    Reading,
    ReadingContext,
)
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.store.paging import every
from csms.tasks import Tasks

log = logging.getLogger(__name__)

LIVE = timedelta(seconds=60)
"""Age up to which a reading tells of now."""


class PowerService:
    """`tell` is called with a site's id whenever its picture is new."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        sites: SitesService,
        stations: StationsService,
        sessions: SessionsService,
        groups: GroupsService,
        commands: Commands,
        delta_margin_percent: float,
        timing: Timing,
        tell: Callable[[str], None],
    ) -> None:
        self._clock = clock
        self._sites = sites
        self._stations = stations
        self._sessions = sessions
        self._groups = groups
        self._commands = commands
        self._delta_margin_percent = delta_margin_percent
        self._timing = timing
        self._tell = tell
        self._tasks = Tasks()
        self._controllers: dict[str, tuple[SiteController, Tasks]] = {}
        self._site_of: dict[str, str] = {}
        self._holding = Holding(sessions, clock, self._tasks)
        self._conditions = Conditions(database, clock, self._tasks)
        self._offering = Offering(commands)
        self._promises = KeptPromises(database)
        self.caps = CapSignals(database, clock, sites, self._caps_changed)
        self._set_up = StationSetUp(commands, self._tasks, self._chooses)
        self._dirty: dict[str, bool] = {}
        self._ceilings: dict[int, float | None] = {}
        self._taps: list[Heard] = []

    # What others ask

    def picture(self, site_id: str) -> SiteShown | None:
        """Circuits, lines, offers and reasons as they are now; None for a site that is not steered."""
        found = self._controllers.get(site_id)
        return found[0].picture if found else None

    @property
    def controllers(self) -> Mapping[str, SiteController]:
        """What steers each active site."""
        return {site_id: controller for site_id, (controller, _) in self._controllers.items()}

    def notices(self, site_id: str) -> frozenset[Notice]:
        """The conditions at a site that a person should hear of."""
        return self._conditions.of(site_id)

    async def faults(self, site_id: str) -> tuple[str, ...]:
        """Why the site must not be active: in silence a circuit would be overloaded, it makes no tree, or a
        station hangs nobody knows where and could not be counted."""
        try:
            made = await self._installation(site_id)
        except InvalidInput as error:
            return (str(error),)
        unplaced = [s.label for s in await self._stations.stations_of(site_id) if s.circuit_id is None]
        return (
            *(str(overload) for overload in overloads_in_silence(made)),
            *(f"{label} hangs on no circuit: say which one feeds it" for label in unplaced),
        )

    async def _caps_changed(self, site_id: str) -> None:
        if found := self._controllers.get(site_id):
            found[0].caps_signalled(await self.caps.of_site(site_id))

    async def circuit_reading(self, circuit: Circuit, line_a: Mapping[Line, float], at: datetime) -> None:
        """The building's meter at `circuit` shows `line_a`, in A, at `at`."""
        for tap in self._taps:
            tap(circuit.id, line_a, at)
        found = self._controllers.get(circuit.site_id)
        if found is not None:
            found[0].building_measured(circuit.id, line_a, at.timestamp())

    def on_circuit_reading(self, call: Heard) -> None:
        self._taps.append(call)

    async def limit_car(self, session: Session, max_a: float | None) -> None:
        """Offer the session's car at most `max_a`, in A, from now on; None: what there is again."""
        self._ceilings[session.id] = max_a
        if found := self._controllers.get(session.site_id or ""):
            await self._tell_of(found[0], session.id)

    def measured(self, session: Session) -> PerLine:
        """A on each of the station's own lines, as last told."""
        found = self._controllers.get(session.site_id or "")
        evse = evse_of(found[0].state, session.station_id, session.evse) if found else None
        bay = found[0].state.bays.get(evse) if found and evse else None
        return bay.measured_a if bay else NO_LINES

    # What it is told

    def session_news(self, news: SessionNews) -> None:
        """A session began, went on or ended (`csms.sessions.handlers.SessionHandlers.follow`)."""
        found = self._controllers.get(self._site_of.get(news.station_id, ""))
        if found is None:
            return
        controller, evse = found[0], evse_of(found[0].state, news.station_id, news.evse)
        if evse is None:
            log.warning("%s does not say at which EVSE session %d is", news.station_id, news.session_id)
            return
        transaction = news.transaction_id
        if news.state not in OPEN:
            controller.charge_ended(evse, transaction)
            return
        if news.began:
            self._tasks.spawn(
                self._tell_of(controller, news.session_id), f"begin of session {news.session_id}"
            )
        held = evse in self._holding.held(controller.site_id)
        if news.charging is ChargingState.CHARGING:
            controller.car_wants(evse, transaction, True)
        elif news.charging is ChargingState.SUSPENDED_EV and not held:
            controller.car_wants(evse, transaction, False)
        if news.reading is not None and self._is_live(controller, news.station_id, news.reading):
            # A live reading counts from its arrival: a station's clock may be off.
            controller.car_measured(
                evse,
                transaction,
                news.reading.current_a,
                self._clock.now().timestamp(),
                float(news.energy_wh),
                station_a=news.reading.offered_a,
                temperature_c=news.reading.temperature_c,
            )

    def _is_live(self, controller: SiteController, station_id: str, reading: Reading) -> bool:
        """Whether a reading tells of now. History does not, unless it is only the clock that lags."""
        off_s = 0.0
        if reading.context is ReadingContext.PERIODIC:
            off_s = controller.station_told_time(station_id, reading.at.timestamp())
        return abs(self._clock.now() - reading.at - timedelta(seconds=off_s)) <= LIVE

    async def station_fact(self, _number: int, fact: Fact) -> None:
        """Presence and boots of stations (follower of the outbox)."""
        found = self._controllers.get(self._site_of.get(fact.subject, ""))
        if found is None:
            return
        if fact.topic == "station.lost" and fact.subject not in self._commands.station_ids:
            found[0].station_lost(fact.subject)
        elif fact.topic == "station.connected" and fact.subject in self._commands.station_ids:
            found[0].station_connected(fact.subject)
            await self._see_to(found[0], fact.subject)
        elif fact.topic == "station.booted":
            found[0].station_booted(fact.subject)
            self._set_up.forget(fact.subject)
            await self._see_to(found[0], fact.subject)

    async def _see_to(self, controller: SiteController, station_id: str) -> None:
        """Set in the charger what steering needs. Nothing is awaited but its record."""
        try:
            station = await self._stations.get(station_id)
        except NotFound:
            return
        bays = controller.state.bays.values()
        known = {bay.wiring.times_offline for bay in bays if bay.evse.station_id == station_id}
        if known - {station.times_offline}:
            self._rebuild(controller.site_id)  # it speaks another version than before
        self._set_up.see_to(station_id, wanted(controller.state, station_id, station.protocol))

    def _chooses(self, station_id: str, evse: int, able: bool) -> None:
        if found := self._controllers.get(self._site_of.get(station_id, "")):
            found[0].station_chooses(Evse(station_id, evse), able)

    def set_up(self, station_id: str) -> SetUp | None:
        """What came of setting up the charger; None: there was nothing to do, or it is not done yet."""
        return self._set_up.of(station_id)

    async def records_changed(self, _number: int, fact: Fact) -> None:
        """A site, a circuit, a station or a group is not what it was (follower of the outbox)."""
        sites = {fact.site_id, self._site_of.get(fact.subject)}
        for site_id in sites:
            if site_id is not None:
                self._rebuild(site_id)

    # Its life

    async def start(self) -> None:
        """Steer every active site. What stations may be drawing is known from what was promised."""
        for site in await every(self._sites.list_sites):
            await self._build(site.id)

    async def stop(self) -> None:
        """Send nothing any more; what was offered lapses in the stations by itself."""
        await self._tasks.close()
        for _, tasks in self._controllers.values():
            await tasks.close()
        self._controllers.clear()

    def _rebuild(self, site_id: str) -> None:
        # Many changes at once (a site is being set up) make one new controller, not hundreds.
        again = site_id in self._dirty
        self._dirty[site_id] = True
        if not again:
            self._tasks.spawn(self._rebuild_when_dirty(site_id), f"new controller of {site_id}")

    async def _rebuild_when_dirty(self, site_id: str) -> None:
        try:
            while self._dirty[site_id]:
                self._dirty[site_id] = False
                await self._build(site_id)
        finally:
            del self._dirty[site_id]

    async def _build(self, site_id: str) -> None:
        try:
            site = await self._sites.get_site(site_id)
            made = await self._installation(site_id) if site.active else None
            circuits = await self._sites.circuits_of(site_id)
            found = meters(circuits, stale_at_least_s=self._timing.meter_stale_s)
        except (NotFound, InvalidInput) as error:
            log.warning("site %s is not steered: %s", site_id, error)
            made = None
        old = self._controllers.pop(site_id, None)
        if old is not None:
            await old[1].close()
        if made is None:
            self._holding.let_go(site_id)
            self._conditions.forget(site_id)
            return
        controller = SiteController(
            site_id,
            made,
            stations=self._offering,
            store=self._promises,
            clock=self._clock,
            meters=found,
            timing=self._timing,
            listener=self._looked,
        )
        await controller.load()
        if old is not None:
            controller.take_over(old[0].state)
        controller.caps_signalled(await self.caps.of_site(site_id))
        stations = {wiring.evse.station_id for wiring in made.wirings}
        self._site_of = {s: at for s, at in self._site_of.items() if at != site_id}
        self._site_of |= dict.fromkeys(stations, site_id)
        # From here on it hears of everything; what is open by now it is told below.
        tasks = Tasks()
        self._controllers[site_id] = (controller, tasks)
        for station_id in stations & self._commands.station_ids:
            controller.station_connected(station_id)
            await self._see_to(controller, station_id)
        for session in await self._sessions.open_sessions(site_id):
            await self._tell_of(controller, session.id)
        tasks.spawn(controller.run(), f"power of {site_id}")

    async def _installation(self, site_id: str) -> Installation:
        return installation(
            await self._sites.get_site(site_id),
            await self._sites.circuits_of(site_id),
            await self._stations.stations_of(site_id),
            await self._stations.evses_of(site_id),
            delta_margin_percent=self._delta_margin_percent,
        )

    async def _tell_of(self, controller: SiteController, session_id: int) -> None:
        """Tell of a session as it is now: it may have ended since it was heard of."""
        try:
            session = await self._sessions.get(session_id)
        except NotFound:
            return
        charge = await self._charge(session)
        if (await self._sessions.get(session_id)).open:
            evse = evse_of(controller.state, session.station_id, session.evse)
            if evse is not None:
                controller.charge_started(evse, charge)

    async def _charge(self, session: Session) -> Charge:
        standings = await self._groups.standings(session.site_id) if session.site_id else {}
        standing = standings.get(session.member_id or "")
        return Charge(
            transaction=session.transaction_id or str(session.id),
            started_s=session.started_at.timestamp(),
            wants=session.charging is not ChargingState.SUSPENDED_EV,
            max_a=self._ceilings.get(session.id),
            weight=standing.weight if standing else 1.0,
            priority=standing.priority if standing else 0,
            energy_wh=float(session.energy_wh),
        )

    def _looked(self, site_id: str, notices: frozenset[Notice], picture: SiteShown) -> None:
        self._holding.looked(site_id, picture)
        self._conditions.looked(site_id, notices)
        self._tell(site_id)
