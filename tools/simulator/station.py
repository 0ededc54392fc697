"""A charging station: bays, the profiles it holds, its clock, and its line to the central system.

Hands act by `plug_in`, `present` (hold a card to it) and `unplug`; the central system acts by the link.
`run` lives until cancelled; `step` alone moves the physics, for those who keep time themselves.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from random import Random

from tools.simulator.bay import Authorization, Bay
from tools.simulator.car import Car, Lines
from tools.simulator.clock import Clock
from tools.simulator.evse import Evse, EvseModel
from tools.simulator.link import Link, LinkSettings
from tools.simulator.options import Options
from tools.simulator.profiles import ProfileStore
from tools.simulator.rpc import RpcFault
from tools.simulator.session import Condition, Reason, Session, Trigger

log = logging.getLogger(__name__)
STRAIGHT = (0, 1, 2)


class Version(StrEnum):
    V16 = "1.6"
    V201 = "2.0.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class StationModel:
    """`wiring[n]` is the line of the supply (0, 1, 2 for L1, L2, L3) that terminal n is wired to.

    `keeps_profiles` false: profiles are gone after a reboot. `events_for_status`: a 2.0.1 station that
    reports its states by NotifyEvent. `reports_soc` false: the car does not say its state of charge, as is
    usual without ISO 15118.
    """

    identity: str
    version: Version = Version.V16
    evses: int = 1
    evse: EvseModel = field(default_factory=EvseModel)
    wiring: tuple[int, int, int] = STRAIGHT
    vendor: str = "Weir"
    model: str = "Sluice 22"
    serial: str | None = None
    firmware: str = "1.0.0"
    keeps_profiles: bool = True
    events_for_status: bool = False
    reports_soc: bool = False
    tick_s: float = 0.25
    """Real seconds between two steps of the physics."""

    def __post_init__(self) -> None:
        if sorted(self.wiring) != [0, 1, 2]:
            raise ValueError(f"wiring: {self.wiring} does not name each of the lines 0, 1 and 2 once")
        if self.evses < 1:
            raise ValueError(f"evses: {self.evses} must be at least 1")


class Station:
    """One station. `fleet.make_station` picks the link for its version. Randomness (transaction ids,
    back-off) comes from `random`, time from `clock`.

    `register_wh` is where the meters of its EVSEs begin, `clock_error` how wrong its clock is until the
    central system tells it the time; `sets_clock` false: it never listens to that (both sides share one
    accelerated clock).
    """

    def __init__(
        self,
        model: StationModel,
        *,
        clock: Clock,
        link: "LinkMaker",
        settings: LinkSettings,
        random: Random,
        options: Options | None = None,
        register_wh: float = 0.0,
        clock_error: timedelta = timedelta(),
        sets_clock: bool = False,
    ) -> None:
        self.model = model
        self.clock = clock
        self.random = random
        self.options = options or Options()
        self.bays = [Bay(n, Evse(model.evse, register_wh=register_wh)) for n in range(1, model.evses + 1)]
        self.profiles = ProfileStore(keeps=model.keeps_profiles)
        self.known_tokens: dict[str, str] = {}
        self._clock_error = clock_error
        self._sets_clock = sets_clock
        self._stepped_at = clock.now()
        self._aligned_at = clock.now()
        self.link = link(self, settings, random)

    @property
    def identity(self) -> str:
        return self.model.identity

    def now(self) -> datetime:
        """The time as this station believes it is."""
        return self.clock.now() + self._clock_error

    def hear_time(self, told: datetime | None) -> None:
        if told is not None and self._sets_clock:
            self._clock_error = told - self.clock.now()

    def bay(self, number: int) -> Bay:
        """Raises ValueError for a number this station has not."""
        if not 1 <= number <= len(self.bays):
            raise ValueError(f"{self.identity} has no EVSE {number}")
        return self.bays[number - 1]

    def site_currents_a(self) -> Lines:
        """What the station draws from L1, L2, L3 of the supply, by its wiring."""
        lines = [0.0, 0.0, 0.0]
        for bay in self.bays:
            for terminal, current_a in enumerate(bay.evse.currents_a):
                lines[self.model.wiring[terminal]] += current_a
        return (lines[0], lines[1], lines[2])

    # --- hands -------------------------------------------------------------------------------

    def plug_in(self, car: Car, bay_number: int = 1) -> None:
        bay = self.bay(bay_number)
        bay.evse.plug_in(car)
        bay.finishing = False
        early = self.options.starts_when_plugged and self.model.version is Version.V201
        if early and bay.authorization is None:
            self._start(bay, token="", remote_start_id=None, trigger=Trigger.PLUGGED_IN)
        self._begin_if_ready(bay, Trigger.PLUGGED_IN)
        self._watch(bay)

    def unplug(self, bay_number: int = 1) -> Car:
        bay = self.bay(bay_number)
        if bay.session is not None:
            self.end(bay, Reason.DEPARTED, Trigger.DEPARTED)
        car = bay.evse.unplug()
        bay.finishing = False
        self._watch(bay)
        return car

    async def present(self, token: str, bay_number: int = 1) -> str:
        """Hold a card to the reader; return the verdict's word ("Accepted" lets charge, "Stopped" ended the
        charge)."""
        bay = self.bay(bay_number)
        session = bay.session
        if session is not None and session.token:
            if session.token.casefold() != token.casefold():
                return "Occupied"
            self.end(bay, Reason.LOCAL, Trigger.STOP_AUTHORIZED)
            return "Stopped"
        verdict = await self.authorize(token)
        if verdict == "Accepted":
            self.grant(bay, token, Trigger.AUTHORIZED)
        return verdict

    # --- decisions that hands and the central system share ----------------------------------------

    async def authorize(self, token: str) -> str:
        """The central system's word, or while it cannot be asked what the station remembers."""
        if self.link.online:
            with contextlib.suppress(RpcFault):
                verdict = await self.link.authorize_online(token)
                self.known_tokens[token.casefold()] = verdict
                return verdict
        known = self.known_tokens.get(token.casefold())
        if known is not None and self.options.offline_known_tokens:
            return known
        return "Accepted" if known is None and self.options.offline_unknown_tokens else "Offline"

    def grant(self, bay: Bay, token: str, trigger: Trigger, remote_start_id: int | None = None) -> None:
        """The card is good: start when the cable is there, or wait for it."""
        bay.authorization = Authorization(token=token, at=self.now(), remote_start_id=remote_start_id)
        self._begin_if_ready(bay, trigger)
        self._watch(bay)

    def end(self, bay: Bay, reason: Reason, trigger: Trigger) -> None:
        """End the transaction: current off first, then tell."""
        session = bay.session
        if session is None:
            return
        bay.evse.offer(0.0)
        bay.evse.contactor_closed = False
        bay.evse.currents_a = (0.0, 0.0, 0.0)
        session.ended = True
        bay.session, bay.finishing = None, True
        self.profiles.transaction_over(bay.number)
        self.link.tell_ended(bay, session, reason, trigger)
        if bay.out_of_service_when_free:
            bay.evse.in_service, bay.out_of_service_when_free = False, False
        self._watch(bay)

    def heard_verdict(self, bay: Bay, session: Session, status: str) -> None:
        """The central system judged the card of a running transaction."""
        self.known_tokens[session.token.casefold()] = status
        if status == "Accepted" or session.ended:
            return
        session.deauthorized = True
        if self.options.stop_on_invalid_id:
            self.end(bay, Reason.DEAUTHORIZED, Trigger.DEAUTHORIZED)

    def set_in_service(self, bay: Bay, in_service: bool) -> bool:
        """Take a bay in or out of service; false when that has to wait for the end of the transaction."""
        if not in_service and bay.session is not None:
            bay.out_of_service_when_free = True
            return False
        bay.out_of_service_when_free = False
        bay.evse.in_service = in_service
        self._watch(bay)
        return True

    def reboot(self, reason: Reason) -> None:
        """Stop everything, come back and boot. Meter, cables, what is queued and stored profiles stay."""
        for bay in self.bays:
            self.end(bay, reason, Trigger.RESET)
            bay.authorization = None
        self.profiles.reboot()
        self.link.reboot()

    def fault(self, bay_number: int, faulted: bool) -> None:
        bay = self.bay(bay_number)
        bay.evse.faulted = faulted
        self._watch(bay)

    # --- time ------------------------------------------------------------------------------------

    async def run(self) -> None:
        """Be a station until cancelled."""
        async with asyncio.TaskGroup() as group:
            group.create_task(self.link.run())
            group.create_task(self._keep_time())

    async def _keep_time(self) -> None:
        self._stepped_at = self.clock.now()
        while True:
            await asyncio.sleep(self.model.tick_s)
            now = self.clock.now()
            self.step((now - self._stepped_at).total_seconds())
            self._stepped_at = now

    def step(self, dt_s: float) -> None:
        """Let `dt_s` seconds pass; `clock` must have moved on by as much."""
        self._offer()
        for bay in self.bays:
            bay.evse.step(dt_s)
            self._watch(bay)
            self._sample_if_due(bay)
            waiting = bay.authorization
            if waiting is not None and self._passed_s(waiting.at) >= self.options.connection_timeout_s:
                bay.authorization = None
                self._watch(bay)
        self._sample_by_the_clock()

    def _offer(self) -> None:
        limits = dict(self._limits())
        for bay in self.bays:
            bay.evse.offer(limits[bay.number])

    def _limits(self) -> Iterator[tuple[int, float]]:
        """A per line for each bay; the station's own maximum is shared evenly among the bays that ask."""
        now = self.now()
        total = self.profiles.station_limit(now)
        asking = sum(bay.asking for bay in self.bays)
        for bay in self.bays:
            session = bay.session
            if session is None or session.deauthorized or not session.token:
                yield bay.number, 0.0
                continue
            own = self.profiles.evse_limit(bay.number, now, session.running())
            limit_a = own.current_a if own else bay.evse.model.max_current_a
            if total is not None:
                limit_a = min(limit_a, total.current_a / max(1, asking))
            yield bay.number, limit_a

    def _passed_s(self, since: datetime) -> float:
        return (self.now() - since).total_seconds()

    # --- what follows from what --------------------------------------------------------------------

    def _begin_if_ready(self, bay: Bay, trigger: Trigger) -> None:
        permit = bay.authorization
        if permit is None or not bay.plugged or not bay.evse.in_service or bay.evse.faulted:
            return
        bay.authorization = None
        if bay.session is not None:  # it began with the cable, now it has a payer
            bay.session.token, bay.session.remote_start_id = permit.token, permit.remote_start_id
            self._offer()
            self.link.tell_updated(bay, bay.session, trigger)
            return
        self._start(bay, permit.token, permit.remote_start_id, trigger)

    def _start(self, bay: Bay, token: str, remote_start_id: int | None, trigger: Trigger) -> None:
        bay.finishing = False
        bay.session = Session(
            key=f"{self.random.getrandbits(128):032x}",
            evse_id=bay.number,
            token=token,
            started_at=self.now(),
            meter_start_wh=bay.evse.register_wh,
            remote_start_id=remote_start_id,
            sampled_at=self.now(),
        )
        self._offer()
        self.link.tell_started(bay, bay.session, trigger)

    def _watch(self, bay: Bay) -> None:
        """Tell what has changed."""
        condition = bay.condition
        if condition is bay.last_condition:
            return
        before, bay.last_condition = bay.last_condition, condition
        self.link.tell_condition(bay)
        charging = {Condition.CHARGING, Condition.SUSPENDED_EV, Condition.SUSPENDED_EVSE}
        if bay.session is not None and condition in charging and before in charging:
            self.link.tell_updated(bay, bay.session, Trigger.CHARGING_STATE)

    def _sample_if_due(self, bay: Bay) -> None:
        session, every_s = bay.session, self.options.sample_s
        if session is None or every_s <= 0 or session.sampled_at is None:
            return
        if self._passed_s(session.sampled_at) >= every_s:
            session.sampled_at = self.now()
            self.link.tell_metered(bay, session, Trigger.PERIODIC)

    def _sample_by_the_clock(self) -> None:
        every_s, now = self.options.aligned_s, self.clock.now()
        if every_s > 0 and int(now.timestamp()) // every_s != int(self._aligned_at.timestamp()) // every_s:
            for bay in self.bays:
                self.link.tell_metered(bay, bay.session, Trigger.CLOCK)
        self._aligned_at = now


LinkMaker = Callable[[Station, LinkSettings, Random], Link]
