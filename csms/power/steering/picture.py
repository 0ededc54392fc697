"""What the page and the API can read of a site, made of the same values that the decision rests on."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from csms.power.caps import CapSignal
from csms.power.installation import LINES, Evse, Line
from csms.power.sharing.demand import Bound
from csms.power.steering.base_load import is_fresh
from csms.power.steering.bay import Bay
from csms.power.steering.profile import Purpose
from csms.power.steering.room import Room
from csms.power.steering.state import SiteState


class BayState(StrEnum):
    """How a bay stands with us."""

    EMPTY = "empty"
    CHARGING = "charging"
    WAITING = "waiting"
    FULL = "full"
    UNREACHABLE = "unreachable"
    REFUSING = "refusing"
    IGNORING = "ignoring"


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitShown:
    """A per line: the limit, the building's base load, what the cars were last measured to draw (0
    where nothing is known), and what they may be drawing by our promises. `meter_fresh` None: no meter
    here. `cap_w`: the lowest cap in force, in W (None: there is none); `asked`: the one from outside."""

    id: str
    limit_a: Mapping[Line, float]
    base_a: Mapping[Line, float]
    drawn_a: Mapping[Line, float]
    promised_a: Mapping[Line, float]
    meter_fresh: bool | None = None
    cap_w: float | None = None
    asked: CapSignal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BayShown:
    """`offer_a`: the live offer last sent (None: none), and whether it is `confirmed`. `counts_a`: what
    the bay counts with. `why`: what bound the offer, or why the car waits, since `waiting_since_s`.
    `safe_in_silence`: it has confirmed its fallback and keeps it. `kept_after_boot`, `can_pause`: what the
    station has shown (None: nothing yet). `asleep`: the car did not wake. `derated_a`: what the station
    gives at most for now. `clock_off_s`: our time less the station's. `keeps`: limits, without us;
    `stored`: its fallback (None: not asked yet); `follows`: a second limit after the first. `may_choose`,
    `chooses`: the line of a car, by the installer and by its own word; `moving`: the car is paused for that.
    """

    evse: Evse
    state: BayState
    offer_a: float | None
    confirmed: bool
    target_a: float
    counts_a: float
    measured_a: float | None
    lines: tuple[Line, ...]
    why: Bound | None
    waiting_since_s: float | None
    safe_in_silence: bool
    kept_after_boot: bool | None = None
    can_pause: bool | None = None
    asleep: bool = False
    derated_a: float | None = None
    clock_off_s: float = 0.0
    rating_a: float = 0.0
    keeps: bool = True
    stored: bool | None = None
    follows: bool | None = None
    may_choose: bool = False
    chooses: bool | None = None
    moving: bool = False


@dataclass(frozen=True, slots=True)
class SiteShown:
    """A site at `at_s`. `picture_full` False: after a restart, nothing is raised yet."""

    at_s: float
    circuits: tuple[CircuitShown, ...]
    bays: tuple[BayShown, ...]
    picture_full: bool


def bay_state(bay: Bay, now_s: float) -> BayState:
    """One word for how a bay stands. A car waits until it is offered something, not until it should be."""
    if not bay.promise.reachable:
        return BayState.UNREACHABLE
    if bay.charge is None:
        return BayState.EMPTY
    if bay.pace.refused_since_s is not None:
        return BayState.REFUSING
    if bay.promise.overdraw_a:
        return BayState.IGNORING
    if not bay.charge.wants:
        return BayState.FULL
    return BayState.CHARGING if bay.promise.offered(now_s) else BayState.WAITING


def show(state: SiteState, now_s: float) -> SiteShown:
    """Everything at `now_s`, bays in the order of their id."""
    state = state.at(now_s)
    asked = state.asked(now_s)
    site = state.network.installation
    base_a = state.base_a(now_s)
    drawn_a = state.drawn_a(now_s)
    room = Room(state.network, state.bays.values(), base_a, now_s, ahead_s=0.0)
    promised_a = room.promised_a()
    building = state.network.line_currents(state.network.usage(), base_a)
    circuits = tuple(
        CircuitShown(
            id=circuit.id,
            limit_a=circuit.limit_a,
            base_a=building[circuit.id],
            drawn_a={line: drawn_a[circuit.id].get(line, 0.0) for line in LINES if line in circuit.limit_a},
            promised_a=promised_a[circuit.id],
            meter_fresh=None
            if circuit.id not in state.meters
            else is_fresh(state.meters[circuit.id], state.readings.get(circuit.id), now_s),
            cap_w=state.network.cap_w(circuit.id),
            asked=asked.get(circuit.id),
        )
        for circuit in site.circuits
    )
    return SiteShown(
        now_s, circuits, tuple(_bay(bay, now_s) for bay in state.bays.values()), state.picture_full
    )


def _bay(bay: Bay, now_s: float) -> BayShown:
    promise = bay.promise
    known = [value for value in bay.measured_a if value is not None]
    return BayShown(
        evse=bay.evse,
        state=bay_state(bay, now_s),
        offer_a=promise.offered(now_s),
        confirmed=promise.live is not None and not promise.asking(Purpose.LIVE),
        target_a=bay.target_a,
        counts_a=promise.counted(now_s),
        measured_a=max(known, default=None),
        lines=bay.lines,
        why=bay.why,
        waiting_since_s=bay.turn.waiting_since_s if bay.charge is not None else None,
        safe_in_silence=promise.keeps and promise.fallback_stored is True,
        kept_after_boot=bay.learned.kept,
        can_pause=bay.learned.zero,
        asleep=bay.waking.asleep,
        derated_a=bay.derating.max_a,
        clock_off_s=bay.clock.off_s,
        rating_a=promise.rating_a,
        keeps=promise.keeps,
        stored=promise.fallback_stored,
        follows=bay.learned.follows,
        may_choose=bay.wiring.can_choose_line,
        chooses=bay.learned.chooses,
        moving=bay.move is not None,
    )
