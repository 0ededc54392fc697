"""Which notices hold at a site now. Pure."""

from collections.abc import Iterable, Set

from csms.power.installation import Line
from csms.power.steering.bay import SKEW_FRESH_S, Bay
from csms.power.steering.notices import Notice, NoticeKind
from csms.power.steering.profile import Purpose
from csms.units import LOWEST_CURRENT_A


def conditions(
    bays: Iterable[Bay], over: Iterable[tuple[str, Line | None]], below_totals: Set[str], now_s: float
) -> frozenset[Notice]:
    """`over`: circuits and lines on which promises and base load do not fit. `below_totals`: circuits
    whose cars a building meter counts too."""
    found = {Notice(NoticeKind.OVER_LIMIT, None, circuit, line) for circuit, line in over}
    for bay in bays:
        found |= {Notice(kind, bay.evse) for kind in _of(bay, bay.wiring.circuit in below_totals, now_s)}
    return frozenset(found)


def _of(bay: Bay, below_total: bool, now_s: float) -> list[NoticeKind]:
    charges = bay.charge is not None and (bay.promise.offered(now_s) or 0.0) >= LOWEST_CURRENT_A
    held = {
        NoticeKind.LOWERING_REFUSED: bay.pace.refused_since_s is not None,
        NoticeKind.OFFER_IGNORED: bool(bay.promise.overdraw_a),
        NoticeKind.FALLBACK_NOT_STORED: Purpose.FALLBACK in bay.pace.tried
        and not bay.promise.fallback_stored,
        NoticeKind.FORGETS_LIMITS: bay.learned.kept is False,
        NoticeKind.CANNOT_PAUSE: bay.learned.zero is False,
        NoticeKind.CAR_ASLEEP: bay.waking.asleep,
        NoticeKind.DERATED: bay.derating.max_a is not None,
        NoticeKind.CLOCK_OFF: bool(bay.clock.off_s),
        NoticeKind.SAMPLES_TOO_SLOW: below_total
        and charges
        and bay.promise.reachable
        and now_s - max(bay.measured_s, bay.pace.changed_s) > SKEW_FRESH_S,
    }
    return [kind for kind, holds in held.items() if holds]
