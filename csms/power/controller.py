"""The edge: tells the pure decision what happens at a site, and sends what it decides.

One `SiteController` per site. Events are told by the plain methods below (cheap, no waiting); each
marks the site for another look. `run` looks at most once a second, writes every promise down before
it is sent, and sends lowerings first.
"""

import asyncio
import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Protocol

from csms.clock import Clock
from csms.errors import InvalidInput, StationOffline, StationSilent
from csms.power.caps import Signals
from csms.power.installation import Evse, Installation, Line
from csms.power.steering.base_load import BuildingMeter, BuildingReading
from csms.power.steering.bay import Bay, Charge
from csms.power.steering.decision import StopSession, step
from csms.power.steering.notices import Notice
from csms.power.steering.picture import SiteShown, show
from csms.power.steering.planned import SitePlan
from csms.power.steering.profile import Offer, Purpose
from csms.power.steering.promises import Outcome, StoredOffer
from csms.power.steering.state import SiteState, new_site
from csms.power.steering.timing import USUAL, Timing
from csms.stations.model import PerLine
from csms.tasks import Tasks

log = logging.getLogger(__name__)

AT_MOST_EVERY_S = 1.0
URGENT_EVERY_S = 0.1
"""The pace when the building takes more: lowerings do not wait for the second to be over."""
URGENT_RISE_A = 1.0


class Stations(Protocol):
    """Sends to stations. `profile.charging_profile` says how an offer looks as a profile."""

    async def set_offer(self, offer: Offer) -> Outcome:
        """Have the station hold `offer`; may raise StationOffline (not sent) or StationSilent."""

    async def read_back(self, evse: Evse) -> float | None:
        """What the EVSE says that it holds now, in A; None: it does not say."""

    async def stop_session(self, stop: StopSession) -> None:
        """End a transaction that does not take a lowering."""


class OfferStore(Protocol):
    """Keeps promises over a restart."""

    async def load(self, site_id: str) -> Mapping[Evse, StoredOffer]:
        """What was last saved of each EVSE of the site."""

    async def save(self, site_id: str, offers: Mapping[Evse, StoredOffer]) -> None:
        """Return when it is durable."""


class Listener(Protocol):
    """Hears of each look: the conditions that hold (all of them, each time) and the new picture."""

    def __call__(self, site_id: str, notices: frozenset[Notice], picture: SiteShown) -> None: ...


class SiteController:
    """Steers one site. Make it, tell it the sessions that are open, then `run` it as a task."""

    def __init__(
        self,
        site_id: str,
        installation: Installation,
        *,
        stations: Stations,
        store: OfferStore,
        clock: Clock,
        meters: Mapping[str, BuildingMeter] | None = None,
        timing: Timing = USUAL,
        listener: Listener | None = None,
    ) -> None:
        self.site_id = site_id
        self._stations = stations
        self._store = store
        self._clock = clock
        self._listener = listener
        self._tasks = Tasks()
        self._awake = asyncio.Event()
        self._urgent = asyncio.Event()
        self._looked_at: Mapping[str, BuildingReading] = {}
        # Wall-clock seconds that cannot jump: comparable with what was saved before a restart.
        self._origin_s = clock.now().timestamp() - clock.monotonic()
        self._state = new_site(installation, meters, timing=timing)
        self._unsaved: set[Evse] = set()
        self._notices: frozenset[Notice] = frozenset()

    # What can be read

    @property
    def now_s(self) -> float:
        """Seconds since 1970 on a scale that does not jump."""
        return self._origin_s + self._clock.monotonic()

    @property
    def picture(self) -> SiteShown:
        """Circuits, lines, offers and reasons as they are now."""
        return show(self._state, self.now_s)

    @property
    def notices(self) -> frozenset[Notice]:
        """The conditions that held at the last look."""
        return self._notices

    @property
    def state(self) -> SiteState:
        """All that the decision knows, for tests and diagnosis."""
        return self._state

    # What it is told

    def notify(self) -> None:
        """Look again soon."""
        self._awake.set()

    def station_connected(self, station_id: str) -> None:
        """The station has a socket and is accepted."""
        self._each(station_id, lambda bay: bay.connected())

    def station_booted(self, station_id: str) -> None:
        """The station has started anew (boot notification): offers to transactions are gone.

        What it should have kept is read back before it is stored again.
        """
        now_s = self.now_s
        self._each(station_id, lambda bay: bay.booted(now_s))
        for bay in self._of(station_id):
            if bay.checking:
                self._tasks.spawn(self._read_back(bay.evse), f"what {bay.evse} has kept")

    def station_told_time(self, station_id: str, at_s: float) -> float:
        """A live message says when it was written. Returns by how much the station's clock is behind."""
        now_s = self.now_s
        bays = self._of(station_id)
        changed = {bay.evse: replace(bay, clock=bay.clock.told(at_s, now_s)) for bay in bays}
        self._state = replace(self._state, bays={**self._state.bays, **changed})
        return max((bay.clock.off_s for bay in changed.values()), key=abs, default=0.0)

    def station_chooses(self, evse: Evse, chooses: bool) -> None:
        """The station says whether it can put a car on the line that we name."""
        self._one(evse, lambda bay: replace(bay, learned=replace(bay.learned, chooses=chooses)))

    def station_lost(self, station_id: str) -> None:
        """The station's socket is gone."""
        now_s = self.now_s
        self._each(station_id, lambda bay: bay.lost(now_s))

    def charge_started(self, evse: Evse, charge: Charge) -> None:
        """A transaction runs; also for those still open when the process starts, and for new facts."""
        now_s = self.now_s
        self._one(evse, lambda bay: bay.started(charge, now_s))

    def charge_ended(self, evse: Evse, transaction: str) -> None:
        """The transaction has ended; one that is not the running one changes nothing."""
        self._one(evse, lambda bay: bay.ended() if _is_of(bay, transaction) else bay)

    def car_wants(self, evse: Evse, transaction: str, wants: bool) -> None:
        """False: the car has stopped asking (suspended by the car); True: it charges. Say nothing of a
        pause by us. Of another transaction than the running one it changes nothing."""
        self._one(evse, lambda bay: bay.wants(wants) if _is_of(bay, transaction) else bay)

    def car_measured(
        self,
        evse: Evse,
        transaction: str,
        current_a: PerLine,
        at_s: float,
        energy_wh: float | None = None,
        *,
        station_a: float | None = None,
        temperature_c: float | None = None,
    ) -> None:
        """Currents on the station's own lines; `energy_wh` of this transaction. The rest: `Bay.measured`."""
        at_s = min(at_s, self.now_s)
        self._one(
            evse,
            lambda bay: (
                bay.measured(current_a, at_s, energy_wh, station_a=station_a, temperature_c=temperature_c)
                if _is_of(bay, transaction)
                else bay
            ),
        )

    def caps_signalled(self, signals: Signals) -> None:
        """The caps from outside that are known from now on, in place of all before."""
        self._state = replace(self._state, signals=signals)
        self._urgent.set()
        self.notify()

    def planned(self, plan: SitePlan | None) -> None:
        """What the cars may have by the hour, in place of an earlier plan."""
        self._state = replace(self._state, plan=plan)
        self.notify()

    def building_measured(
        self, circuit: str, line_a: Mapping[Line, float], at_s: float | None = None
    ) -> None:
        """A reading of the meter at `circuit`. InvalidInput: there is no meter."""
        if circuit not in self._state.meters:
            raise InvalidInput("circuit", f"{circuit!r} has no building meter")
        reading = BuildingReading(dict(line_a), self.now_s if at_s is None else min(at_s, self.now_s))
        self._state = replace(self._state, readings={**self._state.readings, circuit: reading})
        seen = self._looked_at.get(circuit)
        if seen is not None and any(
            value - seen.line_a.get(line, 0.0) >= URGENT_RISE_A for line, value in line_a.items()
        ):
            self._urgent.set()
        self.notify()

    def _one(self, evse: Evse, change: Callable[[Bay], Bay]) -> None:
        bay = self._state.bays.get(evse)
        if bay is not None:
            self._change([bay], change)

    def _each(self, station_id: str, change: Callable[[Bay], Bay]) -> None:
        self._change(self._of(station_id), change)

    def _of(self, station_id: str) -> list[Bay]:
        return [bay for bay in self._state.bays.values() if bay.evse.station_id == station_id]

    def _change(self, bays: Iterable[Bay], change: Callable[[Bay], Bay]) -> None:
        changed = {bay.evse: change(bay) for bay in bays}
        self._state = replace(self._state, bays={**self._state.bays, **changed})
        self.notify()

    # What it does

    async def load(self) -> None:
        """Take over what was promised before this process started; before anything is told."""
        found = await self._store.load(self.site_id)
        before = self._state
        self._state = new_site(before.network.installation, before.meters, found, before.timing)

    def take_over(self, old: SiteState) -> None:
        """Go on where the controller before this one stopped, under new records; after `load`."""
        self._state = self._state.taken_over(old, self.now_s)
        self._unsaved.update(self._state.bays)

    async def run(self) -> None:
        """Look on every event and when time comes, until cancelled.

        Bursts are joined: once a second at most, unless the building takes more than at the last
        look. Then it is about lowering, and the next look comes after a tenth of a second.
        """
        try:
            while True:
                self._awake.clear()
                self._urgent.clear()
                self._looked_at = self._state.readings
                wake_s = await self.look()
                await self._clock.sleep(URGENT_EVERY_S)
                await self._wait(self._urgent, AT_MOST_EVERY_S - URGENT_EVERY_S)
                await self._wait(self._awake, wake_s - self.now_s)
        finally:
            await self._tasks.close()

    async def _wait(self, for_event: asyncio.Event, seconds: float) -> None:
        if seconds <= 0 or for_event.is_set():
            return
        timer = self._tasks.spawn(self._clock.sleep(seconds), f"timer of {self.site_id}")
        event = self._tasks.spawn(for_event.wait(), f"events of {self.site_id}")
        await asyncio.wait({timer, event}, return_when=asyncio.FIRST_COMPLETED)
        timer.cancel()
        event.cancel()

    async def look(self) -> float:
        """Decide once, write down, send. Returns when to look again, without waiting for answers."""
        now_s = self.now_s
        try:
            decided = step(self._state, now_s)
        except Exception:  # a fault of ours, of whatever kind, must not end the steering
            # Nothing is sent: what was offered lapses, and the stations fall back.
            log.exception("site %s cannot be shared", self.site_id)
            return now_s + AT_MOST_EVERY_S
        self._state = decided.state
        self._unsaved.update(offer.evse for offer in decided.offers)
        raises = {offer.id for offer in decided.offers if not self._lowers(offer, now_s)}
        saved = await self._save(now_s)
        for offer in decided.offers:
            if saved or offer.id not in raises:
                self._tasks.spawn(self._send(offer), f"offer to {offer.evse}")
            else:
                self._answered(offer, Outcome.REFUSED)
        for stop in decided.stops:
            self._tasks.spawn(self._stations.stop_session(stop), f"stop at {stop.evse}")
        self._notices = decided.notices
        if self._listener is not None:
            self._listener(self.site_id, decided.notices, self.picture)
        return decided.wake_s

    def _lowers(self, offer: Offer, now_s: float) -> bool:
        """Whether an offer that was not written down would be safe all the same."""
        live = self._state.bays[offer.evse].promise.live
        return offer.purpose is not Purpose.LIVE or (live is not None and offer.current_a < live.current_a)

    async def _save(self, now_s: float) -> bool:
        unsaved, self._unsaved = self._unsaved, set()
        if not unsaved:
            return True
        try:
            await self._store.save(
                self.site_id, {evse: self._state.bays[evse].to_store(now_s) for evse in unsaved}
            )
        except Exception:  # whatever the store's fault is: no raise goes out that was not written down
            log.exception("promises of site %s were not saved", self.site_id)
            self._unsaved |= unsaved
            return False
        return True

    async def _send(self, offer: Offer) -> None:
        try:
            outcome = await self._stations.set_offer(offer)
        except StationOffline:
            outcome = Outcome.REFUSED
        except StationSilent:
            outcome = Outcome.UNANSWERED
        except Exception:  # a fault of ours on the way: it may have been sent
            log.exception("offer to %s failed", offer.evse)
            outcome = Outcome.UNANSWERED
        self._answered(offer, outcome)

    async def _read_back(self, evse: Evse) -> None:
        limit_a: float | None = None
        try:
            limit_a = await self._stations.read_back(evse)
        except (StationOffline, StationSilent) as error:
            log.info("%s does not say what it has kept: %s", evse, error)
        finally:
            self._unsaved.add(evse)
            self._one(evse, lambda bay: bay.read_back(limit_a))

    def _answered(self, offer: Offer, outcome: Outcome) -> None:
        now_s = self.now_s
        self._unsaved.add(offer.evse)
        self._one(offer.evse, lambda bay: bay.answered(offer.id, outcome, now_s))


def _is_of(bay: Bay, transaction: str) -> bool:
    return bay.charge is not None and bay.charge.transaction == transaction
