"""The most that one EVSE may be drawing, by anything we ever told it.

A `Promise` is a value; each thing that happens gives a new one. Times are seconds on one scale that
does not jump. What counts, at any moment, is the highest of:
- the live offer that was last accepted, until it has surely lapsed, and what follows it in the station
  (the fallback) from when it may have lapsed until the charge ends;
- what lies beneath it: 0 A while the idle default surely holds, else the fallback (the full rating of
  a station that has refused it). It counts during a charge too, as a charge may end, and another
  begin, before we hear of it;
- the full rating, always, of a station that keeps nothing: it takes it the moment the link is gone;
- every offer on its way or unanswered: the station may have taken it;
- the value before an accepted lowering, until the car was measured at or below the new one or has had
  its 5 s (IEC 61851-1, from memory);
- what a car that ignores its offer was measured to draw, and for a while after it has given in.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from csms.power.steering.profile import IDLE_VALID_S, OFF_LINE_S, Offer, Purpose

REACTION_S = 5.0
SKEW_S = 10.0
"""Between a station's clock and ours, with the way of a message."""
OBEY_S = 10.0
"""From when on a car that draws more than offered is ignoring its offer."""
NOTICED_S = 60.0
"""A station may have been off line for so long before we see it."""
WARY_S = 300.0
"""How long it counts with what it drew after it has given in."""
MEASURED_SLACK_A = 0.05


class Outcome(StrEnum):
    """What became of an offer. UNANSWERED: the station may have taken it."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    UNANSWERED = "unanswered"


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit in a station, confirmed at `since_s` and of this value since `set_s`. It may lapse from
    `may_end_s` on and has surely lapsed at `ends_s`; `then_a` follows until the charge ends (None: what
    lies beneath). `offline_s`: it may also lapse after so long off line."""

    current_a: float
    since_s: float
    may_end_s: float
    ends_s: float
    set_s: float = float("-inf")
    then_a: float | None = None
    offline_s: float | None = None

    def most(self, now_s: float, ahead_s: float) -> float:
        """The highest A that it may be at `now_s` or within `ahead_s`; 0 when it is over."""
        lasts = self.current_a if now_s < self.ends_s else 0.0
        if self.then_a is None or now_s + ahead_s < self.may_end_s:
            return lasts
        return max(lasts, self.then_a)


def _on_its_way(ask: Offer, ends_s: float, since_s: float) -> Limit:
    """What a station has taken if it has taken `ask`."""
    valid_s = ask.valid_s or 0.0  # only a fallback, which is none of these, has none
    return Limit(
        ask.current_a,
        since_s=since_s,
        may_end_s=ask.sent_s + valid_s - SKEW_S,
        ends_s=ends_s + valid_s + SKEW_S,
        set_s=since_s,
        then_a=ask.then_a,
        offline_s=ask.offline_s,
    )


@dataclass(frozen=True, slots=True)
class Easing:
    """An accepted lowering that the car may not have followed yet: `current_a` counts until then."""

    current_a: float
    accepted_s: float
    until_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """See the head of this file. `fallback_stored`: whether the station has taken it; None: not asked
    yet since it started or since the fallback was changed, and the installer's word counts. `stored_a`:
    the fallback that it has taken last, maybe another than it should have now."""

    rating_a: float
    fallback_a: float
    keeps: bool = True
    fallback_stored: bool | None = None
    stored_a: float | None = None
    reachable: bool = False
    live: Limit | None = None
    idle: Limit | None = None
    asks: tuple[Offer, ...] = ()
    doubtful: tuple[Limit, ...] = ()
    easing: tuple[Easing, ...] = ()
    overdraw_a: float = 0.0
    wary_a: float = 0.0
    wary_until_s: float = 0.0

    # What counts

    @property
    def silent_a(self) -> float:
        """A, when it has not heard us for long."""
        if not self.keeps or self.fallback_stored is False:
            return self.rating_a
        return max(self.fallback_a, self.stored_a or 0.0)

    def beneath(self, now_s: float, ahead_s: float = 0.0) -> float:
        """A, when there is no live offer: at once, or the most within `ahead_s`."""
        floor = self.silent_a
        if not self.keeps or self.idle is None or now_s >= self.idle.ends_s:
            return floor
        if now_s + ahead_s >= self.idle.may_end_s:
            return max(floor, self.idle.current_a)
        return self.idle.current_a

    def holding(self, now_s: float, ahead_s: float = 0.0) -> float:
        """The highest limit in A that the station may be holding, the car's reaction not counted."""
        most = self.beneath(now_s, ahead_s)
        if self.live is not None:
            most = max(most, self.live.most(now_s, ahead_s))
        for limit in self.doubtful:
            most = max(most, limit.most(now_s, ahead_s))
        for ask in self.asks:
            if ask.purpose is Purpose.LIVE:
                most = max(most, _on_its_way(ask, now_s, now_s).most(now_s, ahead_s))
        return most

    @property
    def limits(self) -> tuple[Limit, ...]:
        """The live offers that the station may hold, those on their way left out."""
        return self.doubtful if self.live is None else (*self.doubtful, self.live)

    def counted(self, now_s: float, ahead_s: float = 0.0) -> float:
        """The most this EVSE may be drawing at `now_s`, in A; with `ahead_s` also until then."""
        most = max(self.holding(now_s, ahead_s), self.overdraw_a)
        if now_s < self.wary_until_s:
            most = max(most, self.wary_a)
        for ease in self.easing:
            if now_s < ease.until_s:
                most = max(most, ease.current_a)
        return most

    def offered(self, now_s: float) -> float | None:
        """The live offer last asked for or in force, in A; None when there is none."""
        for ask in reversed(self.asks):
            if ask.purpose is Purpose.LIVE:
                return ask.current_a
        if self.live is not None and now_s < self.live.ends_s:
            return self.live.current_a
        return None

    @property
    def flows(self) -> bool:
        """Whether a current was offered that the car may be taking."""
        return any(limit.current_a > 0 for limit in self.limits)

    def asking(self, purpose: Purpose) -> bool:
        """Whether an offer of that purpose is on its way."""
        return any(ask.purpose is purpose for ask in self.asks)

    # What happens

    def ask(self, offer: Offer) -> "Promise":
        """An offer is about to be sent: from now on it may hold."""
        return replace(self, asks=(*self.asks, offer))

    def answer(self, offer_id: int, outcome: Outcome, now_s: float) -> "Promise":
        """The fate of an offer. One that is no longer waited for changes nothing."""
        asked = next((ask for ask in self.asks if ask.id == offer_id), None)
        if asked is None:
            return self
        later = tuple(ask for ask in self.asks if ask.id != offer_id)
        if asked.purpose is Purpose.FALLBACK and outcome is Outcome.ACCEPTED:
            current = asked.current_a == self.fallback_a
            return replace(self, asks=later, fallback_stored=current or None, stored_a=asked.current_a)
        if asked.purpose is Purpose.FALLBACK and outcome is Outcome.REFUSED:
            return replace(self, asks=later, fallback_stored=False)
        if outcome is Outcome.REFUSED or asked.purpose is Purpose.FALLBACK:
            return replace(self, asks=later)
        same = self.live is not None and self.live.current_a == asked.current_a and now_s < self.live.ends_s
        limit = _on_its_way(asked, now_s, now_s)
        if same and self.live is not None:
            limit = replace(limit, set_s=self.live.set_s)
        if asked.purpose is Purpose.IDLE:
            return replace(self, asks=later, idle=limit if outcome is Outcome.ACCEPTED else self.idle)
        if outcome is Outcome.UNANSWERED:
            return replace(self, asks=later, doubtful=(*self.doubtful, limit))
        # A station acts in the order in which it was told: what was sent before is superseded.
        before = replace(self, asks=later).holding(now_s)
        after = replace(self, asks=tuple(a for a in later if a.id > offer_id), live=limit, doubtful=())
        easing = tuple(ease for ease in self.easing if now_s < ease.until_s)
        if before > after.holding(now_s):
            easing = (*easing, Easing(before, now_s, now_s + REACTION_S))
        return replace(after, easing=easing)

    def measure(self, current_a: float, at_s: float) -> "Promise":
        """The highest line current of this EVSE, as measured at `at_s`."""
        holding = self.holding(at_s)
        easing = tuple(
            ease
            for ease in self.easing
            if at_s < ease.until_s and (at_s <= ease.accepted_s or current_a > holding + MEASURED_SLACK_A)
        )
        settled = self.live is None or (at_s >= self.live.set_s + OBEY_S and not easing)
        excess = settled and current_a > holding + max(1.0, 0.1 * holding)
        if not excess:
            return replace(self, easing=easing, overdraw_a=0.0)
        wary_a = max(current_a, self.wary_a if at_s < self.wary_until_s else 0.0)
        return replace(self, easing=easing, overdraw_a=current_a, wary_a=wary_a, wary_until_s=at_s + WARY_S)

    def ended(self) -> "Promise":
        """The transaction has ended: its offers went with it and the car draws nothing."""
        asks = tuple(ask for ask in self.asks if ask.purpose is not Purpose.LIVE)
        return replace(
            self, live=None, asks=asks, doubtful=(), easing=(), overdraw_a=0.0, wary_a=0.0, wary_until_s=0.0
        )

    def connected(self) -> "Promise":
        """The station can be asked again; what it holds is as before."""
        return replace(self, reachable=True)

    def lost(self, now_s: float) -> "Promise":
        """The station cannot be asked; what was on its way may have arrived."""
        promise = self
        for ask in self.asks:
            promise = promise.answer(ask.id, Outcome.UNANSWERED, now_s)
        idle = promise.idle
        if idle is not None and idle.offline_s is not None:
            may_end_s = min(idle.may_end_s, now_s - NOTICED_S + idle.offline_s)
            idle = replace(idle, may_end_s=may_end_s)
        return replace(promise, reachable=False, idle=idle)

    def booted(self, now_s: float) -> "Promise":
        """The station has started anew: offers to transactions are gone, defaults stay if it keeps them.

        The fallback is stored again on every boot; until it is, what was said of it counts. A station
        that goes on with a charge has a car that may still be on its way down; and it may have kept the
        offers to it after all, which count until the next one is taken or the charge ends.
        """
        again = None if self.fallback_stored else self.fallback_stored
        gone = self.lost(now_s)
        fresh = replace(gone.ended(), doubtful=gone.limits, asks=(), reachable=True, fallback_stored=again)
        if not self.keeps:
            fresh = replace(fresh, idle=None, fallback_stored=None, stored_a=None)
        before = self.holding(now_s)
        if before > fresh.holding(now_s):
            fresh = replace(fresh, easing=(Easing(before, now_s, now_s + REACTION_S),))
        return fresh

    def of(self, rating_a: float, fallback_a: float, keeps: bool) -> "Promise":
        """The same under new records. The station holds the fallback of before until it takes this one."""
        stored = self.fallback_stored if fallback_a == self.fallback_a else None
        return replace(
            self,
            rating_a=rating_a,
            fallback_a=fallback_a,
            keeps=keeps,
            fallback_stored=False if self.fallback_stored is False else stored,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredOffer:
    """What must outlive us, written before an offer is sent: no live offer is above `promised_a`.

    `lapses_s`: when every live offer has surely lapsed. `idle_may_end_s`, `idle_ends_s`: of the idle
    default, None when it is not in force. `stored_a`: the fallback that the station has taken last.
    `takes_zero`, `kept`, `follows`: see `learned`. `asked_a`, `accepted`: the live offer last sent, for
    people. `then_a`, `then_from_s`: what may follow the live offers, and from when. `line`: the station's
    own line that they name.
    """

    promised_a: float
    lapses_s: float
    asked_a: float
    accepted: bool
    asked_s: float
    fallback_stored: bool | None
    idle_may_end_s: float | None = None
    idle_ends_s: float | None = None
    stored_a: float | None = None
    takes_zero: bool | None = None
    kept: bool | None = None
    follows: bool | None = None
    line: int | None = None
    then_a: float | None = None
    then_from_s: float | None = None


def stored(promise: Promise, now_s: float) -> StoredOffer:
    """What to write down of `promise`."""
    known = [*promise.limits]
    known += [_on_its_way(ask, now_s, ask.sent_s) for ask in promise.asks if ask.purpose is Purpose.LIVE]
    known += [Limit(e.current_a, e.accepted_s, e.accepted_s, e.until_s) for e in promise.easing]
    limits = [limit for limit in known if now_s < limit.ends_s]
    follow = [limit for limit in known if limit.then_a is not None]
    return StoredOffer(
        promised_a=max([limit.current_a for limit in limits], default=0.0),
        lapses_s=max([limit.ends_s for limit in limits], default=now_s),
        asked_a=promise.offered(now_s) or 0.0,
        accepted=not promise.asking(Purpose.LIVE),
        asked_s=now_s,
        fallback_stored=promise.fallback_stored,
        stored_a=promise.stored_a,
        idle_may_end_s=promise.idle.may_end_s if promise.idle else None,
        idle_ends_s=promise.idle.ends_s if promise.idle else None,
        then_a=max((limit.then_a or 0.0 for limit in follow), default=None),
        then_from_s=min((limit.may_end_s for limit in follow), default=None),
    )


def restored(promise: Promise, found: StoredOffer, *, times_offline: bool = False) -> Promise:
    """`promise` after a restart: the station may hold all that was written down."""
    live = None
    if found.promised_a > 0 or found.then_a is not None:
        may_end_s = found.asked_s if found.then_from_s is None else found.then_from_s
        live = Limit(found.promised_a, found.asked_s, may_end_s, found.lapses_s, then_a=found.then_a)
    idle = None
    if found.idle_may_end_s is not None and found.idle_ends_s is not None:
        idle = Limit(0.0, found.idle_may_end_s - IDLE_VALID_S, found.idle_may_end_s, found.idle_ends_s)
        if times_offline:
            # Off line since it was last written to, for all we know.
            may_end_s = min(idle.may_end_s, found.asked_s - NOTICED_S + OFF_LINE_S)
            idle = replace(idle, may_end_s=may_end_s, offline_s=OFF_LINE_S)
    same = found.stored_a == promise.fallback_a or found.fallback_stored is False
    return replace(
        promise,
        live=live,
        idle=idle,
        fallback_stored=found.fallback_stored if same else None,
        stored_a=found.stored_a,
    )
