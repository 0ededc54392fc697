"""One place to charge, with all that is known about it.

`Bay` joins how it is wired, what we were told (transaction, car, readings), what we promised, what its
car really uses, whose turn it is, what the station has shown that it can do, and the pace of our own
commands. Each method gives a new bay.
"""

import math
from dataclasses import dataclass, field, replace

from csms.power.installation import Evse, Line, System, Wiring
from csms.power.sharing.demand import Bound, Load, usual_connection
from csms.power.steering.clock_offset import ClockOffset
from csms.power.steering.derating import Derating
from csms.power.steering.learned import Learned
from csms.power.steering.profile import Purpose, follows_a
from csms.power.steering.promises import Outcome, Promise, StoredOffer, restored, stored
from csms.power.steering.turns import Turn
from csms.power.steering.usage import Usage
from csms.power.steering.waking import Waking
from csms.stations.model import NO_LINES, PerLine
from csms.units import LOWEST_CURRENT_A

MEASURED_FRESH_S = 90.0
SKEW_FRESH_S = 15.0
"""An older reading of a car is no use to take its draw off a total: the car may draw nothing by now. With a
reading every 10 s a load that takes the place of a car's is seen as late as that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A running transaction. `wants` False: the car is full or has stopped asking.

    `max_a`: the car's own maximum where it is known; `lines`: how many lines it uses, where that is.
    `weight`, `priority`: see `Demand`.
    """

    transaction: str
    started_s: float
    wants: bool = True
    min_a: float = LOWEST_CURRENT_A
    max_a: float | None = None
    lines: int | None = None
    weight: float = 1.0
    priority: int = 0
    energy_wh: float = 0.0


@dataclass(frozen=True, slots=True)
class Pace:
    """What our commands have to wait for.

    `changed_s`: the last change of the live offer. `room_since_s`, `room_a`: since when, and how much
    at least, the car could have had more. `refused_since_s`: since when it does not take a lowering;
    `refused_a`: the offer that it did not take. `ignored_since_s`: since when it draws more than it was
    offered; `repeated`: it was told again. `tried`: when each purpose was last refused.
    """

    changed_s: float = -math.inf
    room_since_s: float | None = None
    room_a: float = 0.0
    refused_since_s: float | None = None
    refused_a: float = 0.0
    ignored_since_s: float | None = None
    repeated: bool = False
    stopped: bool = False
    tried: dict[Purpose, float] = field(default_factory=dict)

    def raised(self, now_s: float) -> "Pace":
        """More was offered now."""
        return Pace(changed_s=now_s, tried=self.tried)


@dataclass(frozen=True, slots=True)
class Move:
    """A car is paused since then to be put on its station's own `line` (see `moves`)."""

    line: int
    since_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """See the head of this file. `known`: heard of since this process started. `checking`: it has started
    anew and is asked what it still holds. `asked`: what was last said of whether the car asks. `line`: the
    station's own line, 1 to 3, that its offers name (None: nobody chose); `moved_s`: when the last move
    began."""

    wiring: Wiring
    promise: Promise
    known: bool = False
    checking: bool = False
    learned: Learned = field(default_factory=Learned)
    derating: Derating = field(default_factory=Derating)
    clock: ClockOffset = field(default_factory=ClockOffset)
    charge: Charge | None = None
    asked: bool | None = None
    measured_a: PerLine = NO_LINES
    before_a: PerLine = NO_LINES
    measured_s: float = -math.inf
    usage: Usage = field(default_factory=Usage)
    turn: Turn = field(default_factory=Turn)
    waking: Waking = field(default_factory=Waking)
    pace: Pace = field(default_factory=Pace)
    target_a: float = 0.0
    why: Bound | None = None
    line: int | None = None
    move: Move | None = None
    moved_s: float = -math.inf

    @property
    def evse(self) -> Evse:
        return self.wiring.evse

    @property
    def lines(self) -> tuple[Line, ...]:
        """The supply's lines that the car uses, as far as we know."""
        return self.wiring.supply_lines(self.usage.lines)

    def counting_on(self, line: int) -> "Bay":
        """On the station's own `line` too, besides those that the car is known to use."""
        if self.usage.lines is None:
            return self
        lines = tuple(use or number == line for number, use in enumerate(self.usage.lines, 1))
        return replace(self, usage=replace(self.usage, lines=lines, pattern=None))

    def put_on(self, line: int) -> "Bay":
        """At rest, and to start on the station's own `line`: on that alone, if the station was seen to do
        as it is told, else also on those that it may use all the same."""
        before = self.usage.lines or (True,)
        lines = tuple(
            number == line or (not self.learned.chose and number <= len(before) and before[number - 1])
            for number in range(1, len(self.wiring.rotation) + 1)
        )
        return replace(self, line=line, usage=replace(self.usage, lines=lines, pattern=None))

    def load(self, system: System, current_a: float) -> Load:
        """`current_a` in this bay, as a load of its circuit."""
        lines = self.lines
        if system.is_delta and len(lines) < 2:
            lines = self.wiring.rotation
        return Load(self.wiring.circuit, lines, usual_connection(system, lines), current_a)

    @property
    def follows_a(self) -> float | None:
        """A that the car goes on with when its offer has lapsed; None: what lies beneath."""
        return None if self.learned.follows is False else follows_a(self.wiring)

    @property
    def obeys(self) -> bool:
        """Whether it may be given a new offer; else it counts with what it may be drawing."""
        pace = self.pace
        return self.promise.reachable and pace.refused_since_s is None and pace.ignored_since_s is None

    def drawn_a(self, now_s: float) -> dict[Line, float]:
        """A per supply line that the car is known to draw: measured lately, and offered."""
        if self.charge is None or now_s - self.measured_s > MEASURED_FRESH_S:
            return {}
        offered = self.promise.offered(now_s)
        most = self.promise.holding(now_s) if offered is None else offered
        return {
            line: min(value, most)
            for line, value in zip(self.wiring.rotation, self.measured_a, strict=False)
            if value is not None
        }

    def drawn_between_a(self, now_s: float) -> tuple[dict[Line, float], dict[Line, float]]:
        """A per supply line that the car draws now at least, and at most.

        A total and a car are not read at the same moment. Least: the lower of two readings, if both are
        recent. Most: the higher of them; what it may be drawing where there are none, or where more was
        offered after them.
        """
        if self.charge is None:
            return {}, {}
        counted = self.promise.counted(now_s)
        recent = now_s - self.measured_s <= SKEW_FRESH_S
        follows = recent and self.pace.changed_s < self.measured_s
        least: dict[Line, float] = {}
        most: dict[Line, float] = {}
        for line, now, before in zip(self.wiring.rotation, self.measured_a, self.before_a, strict=False):
            if recent and now is not None:
                least[line] = min(now, before or 0.0, counted)
            most[line] = counted if now is None or not follows else min(max(now, before or 0.0), counted)
        return least, most

    def received_a(self, now_s: float) -> float:
        """What the car takes, A of its highest line; what it is offered where nobody measures."""
        known = [value for value in self.measured_a if value is not None]
        if known and now_s - self.measured_s <= MEASURED_FRESH_S:
            return max(known)
        return self.promise.offered(now_s) or 0.0

    # What we are told

    def connected(self) -> "Bay":
        return replace(self, known=True, promise=self.promise.connected())

    def lost(self, now_s: float) -> "Bay":
        # What it did not take, it is told anew when it is back; the time until then is not its fault.
        pace = replace(self.pace, refused_since_s=None, ignored_since_s=None)
        return replace(self, checking=False, promise=self.promise.lost(now_s), pace=pace)

    def booted(self, now_s: float) -> "Bay":
        """It has started anew. What it should have kept is looked up before it is stored again."""
        kept = self.charge is None and self.promise.fallback_stored is True and self.wiring.keeps_profiles
        promise = self.promise.booted(now_s)
        # Who knows which line it is on now.
        usage = self.usage if self.line is None else replace(self.usage, lines=None, pattern=None)
        return replace(self, known=True, checking=kept, promise=promise, pace=Pace(), usage=usage, move=None)

    def read_back(self, limit_a: float | None) -> "Bay":
        """What an idle EVSE holds after a boot, in A; None: it does not say."""
        if not self.checking:
            return self
        learned = self.learned.read_back(limit_a, self.promise.silent_a)
        keeps = self.wiring.keeps_profiles and learned.kept is not False
        promise = replace(self.promise, keeps=keeps)
        if limit_a is not None and limit_a > 0.1:
            promise = replace(promise, idle=None)
        return replace(self, checking=False, learned=learned, promise=promise)

    def started(self, charge: Charge, now_s: float) -> "Bay":
        """A transaction runs. Told again of the same one, only its facts are renewed; one that began
        before the running one is history."""
        if self.charge is not None and self.charge.transaction == charge.transaction:
            wants = charge.wants and not self.waking.asleep
            return replace(self, charge=replace(charge, started_s=self.charge.started_s, wants=wants))
        if self.charge is not None and charge.started_s < self.charge.started_s:
            return self
        fresh = self.ended() if self.charge is not None else self
        return replace(fresh, charge=charge, turn=Turn(waiting_since_s=now_s))

    def ended(self) -> "Bay":
        """The car is gone, and what was learned of it. What was learned of the station stays."""
        return Bay(
            wiring=self.wiring,
            promise=self.promise.ended(),
            known=self.known,
            checking=self.checking,
            learned=self.learned,
            derating=self.derating,
            clock=self.clock,
        )

    def wants(self, wants: bool) -> "Bay":
        """The station says whether the car asks; said again, it is no news."""
        if self.charge is None or self.asked is wants:
            return self
        turn = self.turn if wants else replace(self.turn, owed_as=0.0)
        charge = replace(self.charge, wants=wants)
        return replace(self, asked=wants, charge=charge, turn=turn, waking=Waking())

    def time_passed(self, now_s: float) -> "Bay":
        """What the hours change by themselves: probes, and a car that does not wake."""
        waking = self.waking.waited(self.measured_s, now_s)
        derating = self.derating.probe(now_s)
        charge = self.charge
        if waking.asleep and charge is not None and charge.wants:
            charge = replace(charge, wants=False)
        if waking is self.waking and derating is self.derating and charge is self.charge:
            return self
        return replace(self, derating=derating, waking=waking, charge=charge)

    def measured(
        self,
        current_a: PerLine,
        at_s: float,
        energy_wh: float | None = None,
        *,
        station_a: float | None = None,
        temperature_c: float | None = None,
    ) -> "Bay":
        """A reading of the station's own lines; an older one than the last, or of no charge, is dropped.

        `station_a`: what the station says that it offers. `temperature_c`: inside of it.
        """
        if self.charge is None or at_s < self.measured_s:
            return self
        charge = self.charge if energy_wh is None else replace(self.charge, energy_wh=energy_wh)
        known = [value for value in current_a if value is not None]
        if not known:
            return replace(self, charge=charge)
        highest = max(known)
        offer_a = self.promise.offered(at_s) or 0.0
        changed_s, step_a = self.pace.changed_s, self.wiring.step_a
        waking = self.waking.drew(highest)
        pace = self.pace
        if self.waking.asleep and not waking.asleep:
            charge = replace(charge, wants=True)
        if self.waking.awaited and not waking.awaited:
            pace = replace(pace, room_since_s=-math.inf, room_a=math.inf)  # it has waited long enough
        promise = self.promise.measure(highest, at_s)
        if highest <= promise.holding(at_s) + 1.0:
            pace = replace(pace, ignored_since_s=None, repeated=False)
        elif promise.overdraw_a and pace.ignored_since_s is None:
            pace = replace(pace, ignored_since_s=at_s)
        usage = self.usage.observe(current_a, len(self.wiring.rotation), offer_a, changed_s, at_s, step_a)
        learned, line = self.learned, self.line
        if line is not None and usage.lines is not None and not usage.lines[line - 1]:
            learned, line = replace(learned, chooses=False), None  # it does not do what it says it can
        elif line is not None and line > 1 and usage.lines is not None and sum(usage.lines) == 1:
            learned = learned if learned.chose else replace(learned, chose=True)
        return replace(
            self,
            charge=charge,
            learned=learned,
            line=line,
            before_a=self.measured_a if at_s - self.measured_s <= MEASURED_FRESH_S else NO_LINES,
            measured_a=current_a,
            measured_s=at_s,
            usage=usage,
            derating=self.derating.observe(
                offer_a=offer_a,
                offer_since_s=changed_s,
                drawn_a=highest,
                station_a=station_a,
                temperature_c=temperature_c,
                at_s=at_s,
                step_a=step_a,
            ),
            waking=waking,
            promise=promise,
            pace=pace,
        )

    def answered(self, offer_id: int, outcome: Outcome, now_s: float) -> "Bay":
        """What became of an offer. A lowering that did not come through makes the bay count as it was."""
        asked = next((ask for ask in self.promise.asks if ask.id == offer_id), None)
        if asked is None:
            return self
        promise = self.promise.answer(offer_id, outcome, now_s)
        learned, pace, line = self.learned, self.pace, self.line
        if asked.purpose is Purpose.LIVE and outcome is not Outcome.UNANSWERED:
            follows = asked.then_a is not None
            learned = learned.answered(asked.current_a, outcome is Outcome.ACCEPTED, follows=follows)
        if outcome is not Outcome.ACCEPTED:
            pace = replace(pace, tried={**pace.tried, asked.purpose: now_s})
            if asked.line is not None and outcome is Outcome.REFUSED and not promise.flows:
                learned, line = replace(learned, chooses=False), None  # told again, without one
            if asked.purpose is Purpose.LIVE and promise.holding(now_s) > asked.current_a:
                since = now_s if pace.refused_since_s is None else pace.refused_since_s
                again = asked.current_a
                if again == 0 and learned.zero is False and self.charge is not None:
                    again = self.charge.min_a  # the least that it does take
                pace = replace(pace, refused_since_s=since, refused_a=again)
        elif asked.purpose is Purpose.LIVE:
            pace = replace(pace, refused_since_s=None)
        return replace(self, promise=promise, pace=pace, learned=learned, line=line)

    # Over a restart, and when its records change

    def to_store(self, now_s: float) -> StoredOffer:
        """What must outlive us."""
        found = stored(self.promise, now_s)
        learned = self.learned
        return replace(
            found, takes_zero=learned.zero, kept=learned.kept, follows=learned.follows, line=self.line
        )

    def rewired(self, wiring: Wiring, now_s: float) -> "Bay":
        """The same bay under new records, as we start to look at it anew: what is on its way may arrive."""
        promise = self.promise.lost(now_s)
        promise = replace(promise, reachable=self.promise.reachable)
        if wiring == self.wiring:
            return replace(self, promise=promise, checking=False)
        keeps = wiring.keeps_profiles and self.learned.kept is not False
        promise = promise.of(wiring.max_current_a, wiring.fallback_a, keeps)
        return replace(
            self, wiring=wiring, promise=promise, checking=False, usage=Usage(), line=None, move=None
        )


def new_bay(wiring: Wiring, found: StoredOffer | None = None) -> Bay:
    """A bay of which nothing has been heard yet; `found`: what was written down before a restart."""
    learned = Learned()
    if found is not None:
        learned = Learned(zero=found.takes_zero, kept=found.kept, follows=found.follows)
    promise = Promise(
        rating_a=wiring.max_current_a,
        fallback_a=wiring.fallback_a,
        keeps=wiring.keeps_profiles and learned.kept is not False,
    )
    if found is not None:
        promise = restored(promise, found, times_offline=wiring.times_offline)
    return Bay(wiring=wiring, learned=learned, promise=promise, line=found.line if found else None)
