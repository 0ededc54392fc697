"""What to send now: one pure step from what is known to commands, reasons and the next look.

Order of a step: what the building takes; what everybody is owed and should have (`targets`); lowerings
at once; then raises, only into room that is free above all promises (`room`), worst-off first; renewals
of what would lapse; the limits that make silence safe. Nothing here waits or sends.

Pauses are not put off: whoever was promised something may take it in the next second. That contactors do
not chatter is seen to by minimum times and by what must be free, and for how long, before a car starts.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import blake2b

from csms.power.installation import Evse, Line
from csms.power.sharing.currents import TOLERANCE, MissingLine
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.sharing.rounding import down
from csms.power.steering.base_load import with_reserve
from csms.power.steering.bay import Bay
from csms.power.steering.conditions import conditions
from csms.power.steering.moves import LOOK_EVERY_S, begin, go_on, next_s
from csms.power.steering.notices import Notice
from csms.power.steering.profile import (
    IDLE_VALID_S,
    OFF_LINE_S,
    RENEW_AT,
    Offer,
    Purpose,
    offer,
    validity_s,
)
from csms.power.steering.promises import Limit
from csms.power.steering.room import Room
from csms.power.steering.state import SiteState
from csms.power.steering.targets import RESUME_WITH_A, Targets, find_targets, settle_turns
from csms.power.steering.waking import Waking

RAISE_BY_A = 1.0
CHANGE_EVERY_S = 10.0
RETRY_S = 10.0
RETRY_STORED_S = 600.0
STOP_AFTER_S = 60.0
IGNORED_FOR_S = 30.0
"""How long a car may ignore its offer, others making room, before it is paused if a limit is passed."""
FAR_OVER = 1.45
"""Of the device's rating: a breaker must trip within the hour (IEC 60898-1); stepping down is too slow."""
LOOK_AT_LEAST_EVERY_S = 10.0
LONGEST_STEP_S = 60.0


@dataclass(frozen=True, slots=True)
class StopSession:
    """The last means against a station that does not take a lowering, or a car that ignores it."""

    evse: Evse
    transaction: str


@dataclass(frozen=True, slots=True)
class Step:
    """`offers` in the order to send: lowerings first. `wake_s`: when to look again at the latest."""

    state: SiteState
    offers: tuple[Offer, ...]
    stops: tuple[StopSession, ...]
    notices: frozenset[Notice]
    wake_s: float


def step(state: SiteState, now_s: float) -> Step:
    """Decide at `now_s`."""
    return _Stepper(state.at(now_s), now_s).run()


class _Stepper:
    def __init__(self, state: SiteState, now_s: float) -> None:
        self.state = state
        self.now_s = now_s
        self.timing = state.timing
        self.base_a = state.base_a(now_s)
        site, step_a = state.network.installation, self.timing.unseen_step_a
        worst_a = state.worst_base_a(now_s) if state.reads_totals else self.base_a
        self.kept_a = with_reserve(self.base_a, site, state.meters, step_a)
        self.worst_a = with_reserve(worst_a, site, state.meters, step_a)
        self.calm = state.calm.seen(self.worst_a, now_s) if state.meters else state.calm
        self.next_id = state.next_id
        self.changed_s: dict[str, float] = {}
        self.offers: list[Offer] = []
        self.stops: list[StopSession] = []
        self.wake_s = now_s + LOOK_AT_LEAST_EVERY_S

    def run(self) -> Step:
        state, now_s = self.state, self.now_s
        full = state.picture_full or all(
            bay.known or bay.promise.live is None or now_s >= bay.promise.live.ends_s
            for bay in state.bays.values()
        )
        passed_s = 0.0 if state.settled_s is None else min(now_s - state.settled_s, LONGEST_STEP_S)
        bays = settle_turns(
            [bay.time_passed(now_s) for bay in state.bays.values()],
            state.network,
            now_s,
            passed_s,
            self.timing,
        )
        metered = bool(state.meters)
        may_move = now_s - state.moves_s >= LOOK_EVERY_S
        targets = find_targets(
            bays, state.network, self.kept_a, now_s, self.timing, metered, state.plan, may_move=may_move
        )
        aimed = [self._call(self._move(bay, targets)) for bay in self._pause_far_over(targets.bays)]
        lowered = [self._retry(self._lower(bay)) for bay in aimed]
        for bay in lowered:
            station = bay.evse.station_id
            self.changed_s[station] = max(self.changed_s.get(station, -math.inf), bay.pace.changed_s)
        room = Room(state.network, lowered, self.base_a, now_s, self.timing.ahead_s)
        over = set(room.overfull())
        if self.worst_a is not self.base_a:
            room = room.under(self.worst_a)
        calm = room.under(self.calm.highest()) if state.meters else room
        after = {bay.evse: self._stop_ignoring(bay, over) for bay in lowered}
        for bay in sorted(after.values(), key=_worst_off_first):
            after[bay.evse] = self._raise(bay, room, calm, full)
        for bay in after.values():
            after[bay.evse] = self._make_silence_safe(self._renew(bay))
        self._look_again(targets, after)
        decided = replace(
            state,
            bays=after,
            next_id=self.next_id,
            picture_full=full,
            calm=self.calm,
            settled_s=now_s,
            moves_s=now_s if may_move else state.moves_s,
        )
        notices = conditions(after.values(), over, state.below_totals(), now_s)
        return Step(decided, tuple(self.offers), tuple(self.stops), notices, self.wake_s)

    def _send(self, bay: Bay, purpose: Purpose, current_a: float) -> Bay:
        sent = offer(
            self.next_id,
            bay.wiring,
            purpose,
            current_a,
            self.now_s,
            live_valid_s=self.timing.offer_validity_s,
            transaction=bay.charge.transaction if bay.charge else None,
            why=bay.why,
            clock_off_s=bay.clock.off_s,
            follows=bay.follows_a is not None,
            line=bay.line,
        )
        self.next_id += 1
        self.offers.append(sent)
        return replace(bay, promise=bay.promise.ask(sent))

    def _wake(self, at_s: float | None) -> None:
        if at_s is not None and self.now_s < at_s < self.wake_s:
            self.wake_s = at_s

    def _rows(self, bay: Bay) -> list[tuple[str, Line | None]]:
        """The circuits' lines that the bay loads, nearest first."""
        network = self.state.network
        load = bay.load(network.installation.system, 0.0)
        path = network.path(load.circuit, load.lines, load.connection)
        return [] if isinstance(path, MissingLine) else [network.row_name(row) for row, _ in path]

    def _pause_far_over(self, bays: Iterable[Bay]) -> list[Bay]:
        """Cars below a circuit that carries far more than its rating are paused, not stepped down."""
        network = self.state.network
        drawn_a = self.state.drawn_a(self.now_s)
        building = network.line_currents(network.usage(), self.base_a)
        over = {
            (circuit.id, line)
            for circuit in network.installation.circuits
            for line, limit in circuit.limit_a.items()
            if building[circuit.id][line] + drawn_a[circuit.id].get(line, 0.0)
            > FAR_OVER * (circuit.device_a or limit)
        }
        if not over:
            return list(bays)
        paused = []
        for bay in bays:
            hit = next((row for row in self._rows(bay) if row in over), None)
            if hit is not None and bay.target_a > 0:
                offered = bool(bay.promise.offered(self.now_s))
                turn = bay.turn.waits(self.now_s, was_offered=offered)
                bay = replace(bay, target_a=0.0, why=Bound(BoundKind.WAITING, *hit), turn=turn)
            paused.append(bay)
        return paused

    def _call(self, bay: Bay) -> Bay:
        """A car that sleeps is called by taking the pilot off for some seconds; its room is kept."""
        return replace(bay, target_a=0.0) if bay.waking.calls(self.now_s) else bay

    def _move(self, bay: Bay, targets: Targets) -> Bay:
        """A car that is put on another line is paused first; its room is kept."""
        better = targets.better
        if better is not None and better.evse == bay.evse:
            bay = begin(bay, better.line, self.now_s)
        self._wake(next_s(bay))
        return go_on(bay, self.now_s)

    def _lower(self, bay: Bay) -> Bay:
        """Cut at once: no waiting, no smallest step."""
        if bay.charge is None or not bay.obeys:
            return bay
        offered = bay.promise.offered(self.now_s)
        if offered is None:
            # Held at 0 by its idle default already; else, or so that its fallback follows, tell it to wait.
            needed = bay.target_a == 0 and (bay.promise.beneath(self.now_s) > 0 or bay.follows_a is not None)
        else:
            needed = bay.target_a < offered
        if not needed:
            return bay
        pace = replace(bay.pace, changed_s=self.now_s, room_since_s=None)
        paused = bay.target_a == 0 and not bay.waking.asleep and bay.waking.called_s is None
        waking = Waking() if paused else bay.waking
        return self._send(replace(bay, pace=pace, waking=waking), Purpose.LIVE, bay.target_a)

    def _retry(self, bay: Bay) -> Bay:
        """Say again what was refused, not answered or, once, ignored; a refused lowering in the end
        stops the session."""
        since, ignored_since = bay.pace.refused_since_s, bay.pace.ignored_since_s
        if bay.charge is None or not bay.promise.reachable:
            return bay
        if since is None and (ignored_since is None or bay.pace.repeated):
            return bay
        if since is not None:
            if self.now_s - since >= STOP_AFTER_S:
                bay = self._stop(bay)
            self._wake(since + STOP_AFTER_S)
        live = bay.promise.live
        last = max(bay.pace.tried.get(Purpose.LIVE, -math.inf), live.since_s if live else -math.inf)
        self._wake(last + RETRY_S)
        if self.now_s < last + RETRY_S or bay.promise.asking(Purpose.LIVE):
            return bay
        again = bay.pace.refused_a if since is not None else bay.promise.offered(self.now_s) or 0.0
        pace = replace(bay.pace, repeated=ignored_since is not None)
        return self._send(replace(bay, pace=pace), Purpose.LIVE, again)

    def _stop(self, bay: Bay) -> Bay:
        if bay.pace.stopped or bay.charge is None:
            return bay
        self.stops.append(StopSession(bay.evse, bay.charge.transaction))
        return replace(bay, pace=replace(bay.pace, stopped=True))

    def _stop_ignoring(self, bay: Bay, over: set[tuple[str, Line | None]]) -> Bay:
        """A car that ignores its offer while the others have no more to give is paused, then stopped."""
        since = bay.pace.ignored_since_s
        if since is None or bay.charge is None or not bay.promise.reachable:
            return bay
        self._wake(since + IGNORED_FOR_S)
        self._wake(since + STOP_AFTER_S)
        if self.now_s < since + IGNORED_FOR_S or not any(row in over for row in self._rows(bay)):
            return bay
        if self.now_s >= since + STOP_AFTER_S:
            return self._stop(bay)
        if bay.promise.asking(Purpose.LIVE) or bay.promise.offered(self.now_s) == 0:
            return bay
        return self._send(replace(bay, target_a=0.0), Purpose.LIVE, 0.0)

    def _raise(self, bay: Bay, room: Room, calm: Room, full: bool) -> Bay:
        """Raise slowly: room that has lasted, one ampere at least, and only what is free now."""
        charge = bay.charge
        if charge is None or not bay.obeys or bay.promise.asking(Purpose.LIVE):
            return bay
        offered = bay.promise.offered(self.now_s) or 0.0
        starts = offered == 0 and bay.target_a > 0
        if not starts and bay.target_a < offered + RAISE_BY_A - TOLERANCE:
            if bay.pace.room_since_s is None:
                return bay
            return replace(bay, pace=replace(bay.pace, room_since_s=None))
        if starts and bay.line is not None:
            bay = bay.put_on(bay.line)
        pace = bay.pace
        if pace.room_since_s is None:
            pace = replace(pace, room_since_s=self.now_s, room_a=bay.target_a)
        else:
            pace = replace(pace, room_a=min(pace.room_a, bay.target_a))
        bay = replace(bay, pace=pace)
        since = pace.room_since_s if pace.room_since_s is not None else self.now_s
        lasted = starts or self.now_s - since >= self.timing.raise_delay_s
        changed_s = self.changed_s.get(bay.evse.station_id, -math.inf)
        self._wake(since + self.timing.raise_delay_s)
        self._wake(changed_s + CHANGE_EVERY_S)
        if not full or not lasted or self.now_s - changed_s < CHANGE_EVERY_S:
            return bay
        needs_a = charge.min_a + (RESUME_WITH_A if self.state.meters else 0.0)
        if starts and calm.most_for(bay) < min(needs_a, bay.target_a):
            return bay
        most = min(bay.target_a if starts else pace.room_a, room.most_for(bay))
        value = down(most, bay.wiring.step_a)
        if value < (charge.min_a if starts else offered + RAISE_BY_A - TOLERANCE):
            return bay
        waking = bay.waking
        if starts and bay.measured_s > -math.inf:
            waiting_since = bay.turn.waiting_since_s
            held_s = 0.0 if waiting_since is None else self.now_s - waiting_since
            waking = waking.started(held_s, self.now_s)
            value = charge.min_a if waking.awaited else value
        room.take(bay, value)
        if calm is not room:
            calm.take(bay, value)
        self.changed_s[bay.evse.station_id] = self.now_s
        bay = replace(bay, pace=pace.raised(self.now_s), waking=waking)
        return self._send(bay, Purpose.LIVE, value)

    def _renew(self, bay: Bay) -> Bay:
        """A live offer that would lapse is sent again, not because it changes."""
        live = bay.promise.live
        if bay.charge is None or live is None:
            return bay
        if bay.promise.asking(Purpose.LIVE) or not bay.promise.reachable:
            return bay
        if bay.pace.refused_since_s is not None:
            return bay  # said again by itself
        nothing = live.current_a == 0 and live.then_a is None
        if nothing and bay.promise.beneath(self.now_s, self.timing.ahead_s) == 0:
            return bay
        renew_s = live.since_s + self._valid_s(live) * RENEW_AT * _spread(bay.evse)
        due = max(renew_s, bay.pace.tried.get(Purpose.LIVE, 0.0) + RETRY_S)
        self._wake(due)
        if self.now_s < due or self.now_s >= live.ends_s:
            return bay
        return self._send(bay, Purpose.LIVE, live.current_a)

    def _valid_s(self, live: Limit) -> float:
        rises = live.then_a is not None and live.current_a < live.then_a
        return validity_s(Purpose.LIVE, self.timing.offer_validity_s, rises=rises) or 0.0

    def _make_silence_safe(self, bay: Bay) -> Bay:
        """The stored fallback, and the self-ending 0 A above it that guards the first seconds."""
        promise = bay.promise
        if not promise.reachable or bay.checking:
            return bay
        tried = bay.pace.tried
        storing = promise.fallback_stored or promise.asking(Purpose.FALLBACK)
        if bay.wiring.keeps_profiles and not storing and self._is_over(tried, Purpose.FALLBACK):
            bay = self._send(bay, Purpose.FALLBACK, bay.wiring.fallback_a)
        if bay.charge is not None and promise.live is None:
            return bay  # it charges by its default alone: an offer must be there before that is closed
        if promise.asking(Purpose.IDLE) or not self._is_over(tried, Purpose.IDLE):
            return bay
        due = -math.inf
        if promise.idle is not None:
            due = promise.idle.since_s + IDLE_VALID_S * RENEW_AT * _spread(bay.evse)
            if promise.idle.may_end_s < promise.idle.since_s + IDLE_VALID_S - OFF_LINE_S / 2:
                due = -math.inf  # it was off line, and may have let go of it
        self._wake(due)
        return self._send(bay, Purpose.IDLE, 0.0) if self.now_s >= due else bay

    def _is_over(self, tried: Mapping[Purpose, float], purpose: Purpose) -> bool:
        again = tried.get(purpose, -math.inf) + RETRY_STORED_S
        self._wake(again)
        return self.now_s >= again

    def _look_again(self, targets: Targets, after: Mapping[Evse, Bay]) -> None:
        """The hours at which something changes by itself."""
        self._wake(self.state.caps_change_s(self.now_s))
        if self.state.plan is not None:
            self._wake(self.state.plan.next_change_s(self.now_s))
        waiting = any(bound.kind is BoundKind.WAITING for bound in targets.allocation.bounds.values())
        for bay in after.values():
            for ease in bay.promise.easing:
                self._wake(ease.until_s)
            limits: list[Limit] = [*bay.promise.doubtful]
            limits += [limit for limit in (bay.promise.live, bay.promise.idle) if limit is not None]
            for limit in limits:
                self._wake(limit.ends_s)
                self._wake(limit.may_end_s - self.timing.ahead_s)
            if waiting and bay.turn.running_since_s is not None:
                self._wake(bay.turn.running_since_s + self.timing.rotation_s)
            self._wake(bay.turn.rests_until_s())
            self._wake(bay.waking.next_s())
            self._wake(bay.derating.next_s())
        for circuit, reading in self.state.readings.items():
            if circuit in self.state.meters:
                self._wake(reading.at_s + self.state.meters[circuit].stale_after_s + 0.001)


@lru_cache(maxsize=10_000)
def _spread(evse: Evse) -> float:
    """From 0.75 to 1, always the same for one EVSE: what began together is not renewed together."""
    drawn = blake2b(str(evse).encode(), digest_size=4).digest()
    return 0.75 + 0.25 * int.from_bytes(drawn, "big") / 2**32


def _worst_off_first(bay: Bay) -> tuple[float, float, float, Evse]:
    """Who has least per weight, then who waits longest."""
    weight = bay.charge.weight if bay.charge else 1.0
    offer_a = max((ask.current_a for ask in bay.promise.asks), default=0.0)
    live = bay.promise.live.current_a if bay.promise.live else 0.0
    waiting = bay.turn.waiting_since_s if bay.turn.waiting_since_s is not None else math.inf
    return max(offer_a, live) / weight, waiting, bay.charge.started_s if bay.charge else 0.0, bay.evse
