"""What to send now: one pure step from what is known to commands, reasons and the next look.

Order of a step: what the building takes; what everybody should have (`targets`); lowerings at once;
then raises, only into room that is free above all promises (`room`), worst-off first; renewals of what
would lapse; the limits that make silence safe. Nothing here waits or sends.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from csms.power.base_load import BuildingMeter, BuildingReading, base_load
from csms.power.bay import Bay, Pace, new_bay
from csms.power.currents import MissingLine, Network
from csms.power.demand import Bound, BoundKind
from csms.power.installation import Evse, Installation, Line
from csms.power.profile import IDLE_VALID_S, RENEW_AT, Offer, Purpose, offer
from csms.power.promises import Limit, StoredOffer
from csms.power.room import Room
from csms.power.rounding import down
from csms.power.targets import Targets, find_targets
from csms.power.timing import USUAL, Timing

RAISE_BY_A = 1.0
CHANGE_EVERY_S = 10.0
RETRY_S = 10.0
RETRY_STORED_S = 600.0
STOP_AFTER_S = 60.0
FAR_OVER = 1.45
"""Of the device's rating: a breaker must trip within the hour (IEC 60898-1); stepping down is too slow."""
LOOK_AT_LEAST_EVERY_S = 10.0


class NoticeKind(StrEnum):
    """What a person should hear of."""

    LOWERING_REFUSED = "lowering_refused"
    OFFER_IGNORED = "offer_ignored"
    OVER_LIMIT = "over_limit"
    FALLBACK_NOT_STORED = "fallback_not_stored"


@dataclass(frozen=True, slots=True)
class Notice:
    """A condition that holds now: of a bay, or of a circuit's line."""

    kind: NoticeKind
    evse: Evse | None = None
    circuit: str | None = None
    line: Line | None = None


@dataclass(frozen=True, slots=True)
class StopSession:
    """The last means against a station that does not take a lowering."""

    evse: Evse
    transaction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteState:
    """All that a step needs. `picture_full`: every station was heard of, or its offers have lapsed."""

    network: Network
    bays: Mapping[Evse, Bay]
    timing: Timing = USUAL
    meters: Mapping[str, BuildingMeter] = field(default_factory=dict)
    readings: Mapping[str, BuildingReading] = field(default_factory=dict)
    next_id: int = 1
    picture_full: bool = False

    def with_bay(self, bay: Bay) -> "SiteState":
        return replace(self, bays={**self.bays, bay.evse: bay})

    def drawn_a(self, now_s: float) -> dict[str, dict[Line, float]]:
        """A per circuit and line that our cars below are known to draw at least."""
        site = self.network.installation
        feeds = {circuit.id: circuit.fed_from for circuit in site.circuits}
        drawn: dict[str, dict[Line, float]] = {circuit: {} for circuit in feeds}
        for bay in self.bays.values():
            for line, value in bay.drawn_a(now_s).items():
                at: str | None = bay.wiring.circuit
                while at is not None:
                    drawn[at][line] = drawn[at].get(line, 0.0) + value
                    at = feeds[at]
        return drawn

    def base_a(self, now_s: float) -> dict[str, dict[Line, float]]:
        """Base load of each circuit itself."""
        return base_load(self.network.installation, self.meters, self.readings, self.drawn_a(now_s), now_s)


@dataclass(frozen=True, slots=True)
class Step:
    """`offers` in the order to send: lowerings first. `wake_s`: when to look again at the latest."""

    state: SiteState
    offers: tuple[Offer, ...]
    stops: tuple[StopSession, ...]
    notices: frozenset[Notice]
    wake_s: float


def new_site(
    site: Installation,
    meters: Mapping[str, BuildingMeter] | None = None,
    found: Mapping[Evse, StoredOffer] | None = None,
    timing: Timing = USUAL,
) -> SiteState:
    """The state of a site when this process starts."""
    bays = {w.evse: new_bay(w, (found or {}).get(w.evse)) for w in sorted(site.wirings, key=lambda w: w.evse)}
    return SiteState(network=Network(site), bays=bays, timing=timing, meters=meters or {})


def step(state: SiteState, now_s: float) -> Step:
    """Decide at `now_s`."""
    return _Stepper(state, now_s).run()


class _Stepper:
    def __init__(self, state: SiteState, now_s: float) -> None:
        self.state = state
        self.now_s = now_s
        self.timing = state.timing
        self.base_a = state.base_a(now_s)
        self.next_id = state.next_id
        self.offers: list[Offer] = []
        self.stops: list[StopSession] = []
        self.wake_s = now_s + LOOK_AT_LEAST_EVERY_S

    def run(self) -> Step:
        full = self.state.picture_full or all(
            bay.known or bay.promise.live is None or self.now_s >= bay.promise.live.ends_s
            for bay in self.state.bays.values()
        )
        bays = [replace(bay, usage=bay.usage.probe(self.now_s)) for bay in self.state.bays.values()]
        targets = find_targets(bays, self.state.network, self.base_a, self.now_s, self.timing)
        aimed = self._pause_far_over(targets.bays)
        lowered = [self._retry(self._lower(bay)) for bay in aimed]
        after = {bay.evse: bay for bay in lowered}
        room = Room(self.state.network, lowered, self.base_a, self.now_s, self.timing.ahead_s)
        for bay in sorted(lowered, key=_worst_off_first):
            after[bay.evse] = self._raise(bay, room, full)
        for bay in after.values():
            after[bay.evse] = self._make_silence_safe(self._renew(bay))
        self._look_again(targets, after)
        state = replace(self.state, bays=after, next_id=self.next_id, picture_full=full)
        return Step(
            state, tuple(self.offers), tuple(self.stops), frozenset(self._notices(after, room)), self.wake_s
        )

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
        )
        self.next_id += 1
        self.offers.append(sent)
        return replace(bay, promise=bay.promise.ask(sent))

    def _wake(self, at_s: float) -> None:
        if self.now_s < at_s < self.wake_s:
            self.wake_s = at_s

    def _pause_far_over(self, bays: Sequence[Bay]) -> list[Bay]:
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
        paused = []
        for bay in bays:
            load = bay.load(network.installation.system, 0.0)
            path = network.path(load.circuit, load.lines, load.connection)
            rows = [] if isinstance(path, MissingLine) or not over else [network.row_name(r) for r, _ in path]
            hit = next((name for name in rows if name in over), None)
            paused.append(
                bay if hit is None else replace(bay, target_a=0.0, why=Bound(BoundKind.WAITING, *hit))
            )
        return paused

    def _lower(self, bay: Bay) -> Bay:
        """Cut at once: no waiting, no smallest step."""
        if bay.charge is None or not bay.obeys:
            return bay
        offered = bay.promise.offered(self.now_s)
        if offered is None:
            # Held at 0 by its idle default already; else tell it to wait.
            needed = bay.target_a == 0 and bay.promise.beneath(self.now_s) > 0
        else:
            needed = bay.target_a < offered
        if not needed:
            return bay
        pace = replace(bay.pace, changed_s=self.now_s, room_since_s=None)
        return self._send(replace(bay, pace=pace), Purpose.LIVE, bay.target_a)

    def _retry(self, bay: Bay) -> Bay:
        """Say again what was refused, not answered or ignored; a refused lowering in the end stops it."""
        since = bay.pace.refused_since_s
        ignored = bay.promise.overdraw_a > 0
        if (since is None and not ignored) or bay.charge is None or not bay.promise.reachable:
            return bay
        if since is not None:
            if self.now_s - since >= STOP_AFTER_S and not bay.pace.stopped:
                self.stops.append(StopSession(bay.evse, bay.charge.transaction))
                bay = replace(bay, pace=replace(bay.pace, stopped=True))
            self._wake(since + STOP_AFTER_S)
        live = bay.promise.live
        last = max(bay.pace.tried.get(Purpose.LIVE, -math.inf), live.since_s if live else -math.inf)
        self._wake(last + RETRY_S)
        if self.now_s < last + RETRY_S or bay.promise.asking(Purpose.LIVE):
            return bay
        again = bay.pace.refused_a if since is not None else bay.promise.offered(self.now_s) or 0.0
        return self._send(bay, Purpose.LIVE, again)

    def _raise(self, bay: Bay, room: Room, full: bool) -> Bay:
        """Raise slowly: room that has lasted, one ampere at least, and only what is free now."""
        charge = bay.charge
        if charge is None or not bay.obeys or bay.promise.asking(Purpose.LIVE):
            return bay
        offered = bay.promise.offered(self.now_s) or 0.0
        starts = offered == 0 and bay.target_a > 0
        if not starts and bay.target_a < offered + RAISE_BY_A:
            return replace(bay, pace=replace(bay.pace, room_since_s=None))
        pace = bay.pace
        if pace.room_since_s is None:
            pace = replace(pace, room_since_s=self.now_s, room_a=bay.target_a)
        else:
            pace = replace(pace, room_a=min(pace.room_a, bay.target_a))
        bay = replace(bay, pace=pace)
        lasted = starts or self.now_s - (pace.room_since_s or 0.0) >= self.timing.raise_delay_s
        self._wake((pace.room_since_s or 0.0) + self.timing.raise_delay_s)
        self._wake(pace.changed_s + CHANGE_EVERY_S)
        if not full or not lasted or self.now_s - pace.changed_s < CHANGE_EVERY_S:
            return bay
        most = min(bay.target_a if starts else pace.room_a, room.most_for(bay))
        value = down(most, bay.wiring.step_a)
        if value < (charge.min_a if starts else offered + RAISE_BY_A):
            return bay
        room.take(bay, value)
        pace = Pace(changed_s=self.now_s, tried=pace.tried)
        return self._send(replace(bay, pace=pace), Purpose.LIVE, value)

    def _renew(self, bay: Bay) -> Bay:
        """A live offer that would lapse is sent again, not because it changes."""
        live = bay.promise.live
        if bay.charge is None or live is None:
            return bay
        if bay.promise.asking(Purpose.LIVE) or not bay.obeys:
            return bay
        if live.current_a == 0 and bay.promise.beneath(self.now_s, self.timing.ahead_s) == 0:
            return bay
        renew_s = live.since_s + self.timing.offer_validity_s * RENEW_AT
        due = max(renew_s, bay.pace.tried.get(Purpose.LIVE, 0.0) + RETRY_S)
        self._wake(due)
        if self.now_s < due or self.now_s >= live.ends_s:
            return bay
        return self._send(bay, Purpose.LIVE, live.current_a)

    def _make_silence_safe(self, bay: Bay) -> Bay:
        """The stored fallback, and the self-ending 0 A above it that guards the first seconds."""
        promise = bay.promise
        if not promise.reachable:
            return bay
        tried = bay.pace.tried
        storing = promise.fallback_stored or promise.asking(Purpose.FALLBACK)
        if bay.wiring.keeps_profiles and not storing and self._is_over(tried, Purpose.FALLBACK):
            bay = self._send(bay, Purpose.FALLBACK, bay.wiring.fallback_a)
        if bay.charge is not None and promise.live is None:
            return bay  # it charges by its default alone: an offer must be there before that is closed
        if promise.asking(Purpose.IDLE) or not self._is_over(tried, Purpose.IDLE):
            return bay
        due = -math.inf if promise.idle is None else promise.idle.since_s + IDLE_VALID_S * RENEW_AT
        self._wake(due)
        return self._send(bay, Purpose.IDLE, 0.0) if self.now_s >= due else bay

    def _is_over(self, tried: Mapping[Purpose, float], purpose: Purpose) -> bool:
        again = tried.get(purpose, -math.inf) + RETRY_STORED_S
        self._wake(again)
        return self.now_s >= again

    def _look_again(self, targets: Targets, after: Mapping[Evse, Bay]) -> None:
        """The hours at which something changes by itself."""
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
        for circuit, reading in self.state.readings.items():
            if circuit in self.state.meters:
                self._wake(reading.at_s + self.state.meters[circuit].stale_after_s + 0.001)

    def _notices(self, after: Mapping[Evse, Bay], room: Room) -> list[Notice]:
        found = []
        for evse, bay in after.items():
            if bay.pace.refused_since_s is not None:
                found.append(Notice(NoticeKind.LOWERING_REFUSED, evse))
            if bay.promise.overdraw_a:
                found.append(Notice(NoticeKind.OFFER_IGNORED, evse))
            if Purpose.FALLBACK in bay.pace.tried and not bay.promise.fallback_stored:
                found.append(Notice(NoticeKind.FALLBACK_NOT_STORED, evse))
        found += [Notice(NoticeKind.OVER_LIMIT, None, circuit, line) for circuit, line in room.overfull()]
        return found


def _worst_off_first(bay: Bay) -> tuple[float, float, float, Evse]:
    """Who has least per weight, then who waits longest."""
    weight = bay.charge.weight if bay.charge else 1.0
    offer_a = max((ask.current_a for ask in bay.promise.asks), default=0.0)
    live = bay.promise.live.current_a if bay.promise.live else 0.0
    waiting = bay.turn.waiting_since_s if bay.turn.waiting_since_s is not None else math.inf
    return max(offer_a, live) / weight, waiting, bay.charge.started_s if bay.charge else 0.0, bay.evse
