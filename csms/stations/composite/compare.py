"""Our composite schedule beside a station's."""

from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

from csms.stations.composite.combine import Composite, Step
from csms.stations.model import CompositeSchedule, ProfilePeriod, RateUnit
from csms.units import NOMINAL_VOLTAGE_V

SLACK_A = 0.11
"""Stations carry one decimal, rounded as they like."""
SLACK_S = 5
"""A difference shorter than this is a clock that is a little off, or the time that the answer took."""
PHASES = 3


@dataclass(frozen=True, slots=True)
class Difference:
    """From `from_s` up to `to_s` seconds the station says `theirs` where ours is `ours` (None: no limit)."""

    from_s: int
    to_s: int
    ours: float | None
    theirs: float | None

    @property
    def looser(self) -> bool:
        """Whether the station would draw more than we reckon with."""
        return self.ours is not None and (self.theirs is None or self.theirs > self.ours)


def differences(
    ours: Composite, theirs: CompositeSchedule | None, *, most_a: float, slack_s: int = SLACK_S
) -> tuple[Difference, ...]:
    """Where the two do not agree. `theirs` None: the station has no limit.

    `most_a`: what the station can do at most on a line; a limit above it, or none, means that.
    """
    shift_s = 0
    if theirs is not None and theirs.start_at is not None:
        shift_s = round((theirs.start_at - ours.start_at) / timedelta(seconds=1))
    marks = {0, *(step.start_s for step in ours.steps)}
    end_s = ours.duration_s
    if theirs is not None:
        marks |= {shift_s + period.start_s for period in theirs.periods}
        end_s = min(end_s, shift_s + theirs.duration_s)
    begin_s = max(0, shift_s)
    places = [begin_s, *sorted(mark for mark in marks if begin_s < mark < end_s), end_s]
    found: list[Difference] = []
    for start, end in pairwise(places):
        step = _step_at(ours, start)
        period = None if theirs is None else _period_at(theirs, start - shift_s)
        if start >= end or _agree(step, period, ours.unit, theirs, most_a):
            continue
        one = Difference(start, end, step.limit, None if period is None else period.limit)
        if found and found[-1].to_s == start and _same(found[-1], one):
            found[-1] = Difference(found[-1].from_s, end, one.ours, one.theirs)
        else:
            found.append(one)
    return tuple(each for each in found if each.to_s - each.from_s >= min(slack_s, ours.duration_s))


def _same(one: Difference, other: Difference) -> bool:
    return (one.ours, one.theirs) == (other.ours, other.theirs)


def _step_at(ours: Composite, second: int) -> Step:
    return [step for step in ours.steps if step.start_s <= second][-1]


def _period_at(theirs: CompositeSchedule, second: int) -> ProfilePeriod | None:
    begun = [period for period in theirs.periods if period.start_s <= second]
    return begun[-1] if begun else None


def _agree(
    step: Step,
    period: ProfilePeriod | None,
    unit: RateUnit,
    theirs: CompositeSchedule | None,
    most_a: float,
) -> bool:
    phases = step.phases or (period.phases if period else None) or PHASES
    own = most_a if step.limit is None else min(most_a, _amps(step.limit, unit, phases))
    if period is None or theirs is None:
        return own >= most_a - SLACK_A
    told = _amps(period.limit, theirs.unit, period.phases or phases)
    return abs(own - min(most_a, told)) <= SLACK_A


def _amps(limit: float, unit: RateUnit, phases: int) -> float:
    return limit if unit is RateUnit.AMPERE else limit / (NOMINAL_VOLTAGE_V * phases)
