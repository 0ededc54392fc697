"""All profiles of a station at every moment: the composite schedule.

Reckoned in amperes per line, since that is what fuses see: W are divided by nominal voltage and number
of phases (3 where none is said; OCPP 1.6 section 7.12, K01.FR.50). Local generation is added to what the
station's maximum and external limits leave, and a priority profile takes the place of the transaction's
own while it is turned on (both from memory).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from math import ceil, inf

from csms.stations.composite.shelf import Held
from csms.stations.composite.timeline import changes, period_at
from csms.stations.model import ChargingProfile, ProfilePeriod, ProfilePurpose, RateUnit
from csms.units import NOMINAL_VOLTAGE_V

PHASES = 3
DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Running:
    """A transaction at an EVSE. `began_at`: when it began to draw; `priority`: turned on."""

    transaction_id: str
    began_at: datetime
    priority: bool = False


@dataclass(frozen=True, slots=True)
class Situation:
    """What the profiles meet. `evses`: numbers of all EVSEs; `running`: transactions by EVSE."""

    evses: tuple[int, ...]
    running: Mapping[int, Running] = field(default_factory=dict)
    zone: tzinfo = UTC
    voltage_v: float = NOMINAL_VOLTAGE_V


@dataclass(frozen=True, slots=True)
class Step:
    """From `start_s` on the limit is so (None: there is none), until the next step.

    In A per line, or in W over all lines; `limit_l2`, `limit_l3` where lines differ (A only).
    """

    start_s: int
    limit: float | None
    phases: int | None = None
    limit_l2: float | None = None
    limit_l3: float | None = None


@dataclass(frozen=True, slots=True)
class Composite:
    """The limits from `start_at` on, `duration_s` long; the first step begins at 0."""

    start_at: datetime
    duration_s: int
    unit: RateUnit
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class _Bound:
    """Amperes of each line (inf: no limit), and on how many lines at most."""

    lines_a: tuple[float, float, float] = (inf, inf, inf)
    phases: int | None = None

    @property
    def free(self) -> bool:
        return self.lines_a == (inf, inf, inf)


FREE = _Bound()


def composite(
    held: Iterable[Held],
    situation: Situation,
    evse: int,
    start: datetime,
    duration_s: int,
    unit: RateUnit = RateUnit.AMPERE,
) -> Composite:
    """The composite schedule of `evse` (0: the station) from `start` on.

    A change within a second counts from the next whole second after `start`.
    """
    shelf = tuple(held)
    end = start + timedelta(seconds=duration_s)
    instants = {0}
    for each in shelf:
        for place in (each.evse,) if each.evse else situation.evses or (0,):
            anchor = _anchor(situation, place)
            for at in changes(each.profile, start, end, anchor, situation.zone):
                instants.add(ceil((at - start).total_seconds()))
    steps: list[Step] = []
    for second in sorted(second for second in instants if second < max(duration_s, 1)):
        bound = bound_at(shelf, situation, evse, start + timedelta(seconds=second))
        step = _step(second, bound, unit, situation.voltage_v)
        if not steps or _differs(steps[-1], step):
            steps.append(step)
    return Composite(start, duration_s, unit, tuple(steps))


def bound_at(held: tuple[Held, ...], situation: Situation, evse: int, at: datetime) -> _Bound:
    """What binds `evse` (0: the station) at one instant."""
    station = [
        _leading(held, situation, 0, at, purpose)
        for purpose in (ProfilePurpose.STATION_MAX, ProfilePurpose.EXTERNAL)
    ]
    outer = _raised(_smallest(station), _leading(held, situation, 0, at, ProfilePurpose.LOCAL_GENERATION))
    if evse == 0:
        return _smallest([outer, _sum(_own(held, situation, each, at) for each in situation.evses)])
    external = _leading(held, situation, evse, at, ProfilePurpose.EXTERNAL)
    return _smallest([outer, external, _own(held, situation, evse, at)])


def _own(held: tuple[Held, ...], situation: Situation, evse: int, at: datetime) -> _Bound:
    """What the profiles of the transaction, or the defaults, leave an EVSE."""
    running = situation.running.get(evse)
    if running is not None and running.priority:
        for place in (evse, 0):
            first = _leading(held, situation, place, at, ProfilePurpose.PRIORITY, seen_from=evse)
            if not first.free:
                return first
    for place, purpose in (
        (evse, ProfilePurpose.TX),
        (evse, ProfilePurpose.TX_DEFAULT),
        (0, ProfilePurpose.TX_DEFAULT),
    ):
        if purpose is ProfilePurpose.TX and running is None:
            continue
        bound = _leading(held, situation, place, at, purpose, seen_from=evse)
        if not bound.free:
            return bound
    return FREE


def _leading(
    held: tuple[Held, ...],
    situation: Situation,
    place: int,
    at: datetime,
    purpose: ProfilePurpose,
    seen_from: int | None = None,
) -> _Bound:
    """The bound of the highest stack level that has a period at `at`; FREE when none has."""
    evse = place if seen_from is None else seen_from
    running = situation.running.get(evse)
    anchor = _anchor(situation, evse)
    best: tuple[int, ProfilePeriod, ChargingProfile] | None = None
    for each in held:
        profile = each.profile
        if each.evse != place or profile.purpose is not purpose:
            continue
        if purpose is ProfilePurpose.TX and not _belongs(profile, running):
            continue
        period = period_at(profile, at, anchor, situation.zone)
        if period is not None and (best is None or profile.stack_level > best[0]):
            best = (profile.stack_level, period, profile)
    return FREE if best is None else _bound(best[1], best[2].unit, situation.voltage_v)


def _belongs(profile: ChargingProfile, running: Running | None) -> bool:
    return running is not None and profile.transaction_id in (None, running.transaction_id)


def _anchor(situation: Situation, evse: int) -> datetime | None:
    running = situation.running.get(evse)
    return None if running is None else running.began_at


def _bound(period: ProfilePeriod, unit: RateUnit, voltage_v: float) -> _Bound:
    own = (period.limit_l2, period.limit_l3)
    if unit is RateUnit.AMPERE:
        limit = period.limit
        lines = (limit, *(limit if one is None else one for one in own))
    elif own == (None, None):
        limit = period.limit / (voltage_v * (period.phases or PHASES))
        lines = (limit, limit, limit)
    else:
        lines = tuple((period.limit if one is None else one) / voltage_v for one in (period.limit, *own))
    return _Bound((lines[0], lines[1], lines[2]), period.phases)


def _smallest(bounds: Iterable[_Bound]) -> _Bound:
    """Line by line the smallest; on the fewest lines that any of them says (K01.FR.140)."""
    told = [bound for bound in bounds if not bound.free]
    if not told:
        return FREE
    l1, l2, l3 = (min(bound.lines_a[line] for bound in told) for line in range(PHASES))
    phases = min((bound.phases for bound in told if bound.phases is not None), default=None)
    return _Bound((l1, l2, l3), phases)


def _raised(bound: _Bound, local: _Bound) -> _Bound:
    if bound.free or local.free:
        return bound
    l1, l2, l3 = (one + more for one, more in zip(bound.lines_a, local.lines_a, strict=True))
    return _Bound((l1, l2, l3), bound.phases)


def _sum(bounds: Iterable[_Bound]) -> _Bound:
    """What all EVSEs may draw together; none that is free leaves it open. Their lines are not turned."""
    told = list(bounds)
    if not told or any(bound.free for bound in told):
        return FREE
    totals = [0.0, 0.0, 0.0]
    for bound in told:
        for line in range(bound.phases or PHASES):
            totals[line] += bound.lines_a[line]
    most = max((bound.phases or PHASES) for bound in told)
    return _Bound((totals[0], totals[1], totals[2]), None if most == PHASES else most)


def _step(second: int, bound: _Bound, unit: RateUnit, voltage_v: float) -> Step:
    if bound.free:
        return Step(second, None)
    lines = [round(one, DECIMALS) for one in bound.lines_a]
    if unit is RateUnit.WATT:
        used = bound.lines_a[: bound.phases or PHASES]
        return Step(second, round(sum(used) * voltage_v, DECIMALS - 2), bound.phases)
    same = lines[0] == lines[1] == lines[2]
    return Step(second, lines[0], bound.phases, None if same else lines[1], None if same else lines[2])


def _differs(one: Step, other: Step) -> bool:
    return (one.limit, one.phases, one.limit_l2, one.limit_l3) != (
        other.limit,
        other.phases,
        other.limit_l2,
        other.limit_l3,
    )
