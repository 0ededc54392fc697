"""What the building takes, as far as we know it.

A meter at a circuit counts everything below it: the base load alone (a sub-meter of the house), or
the total with our cars in it. From a total the cars' own draw is taken off; as meter and cars are not read
at the same moment, that is done twice (`Bay.drawn_between_a`): what is sure is reason to lower, the worst
that can be is what a raise must fit into. A meter that is silent for three periods (at least 30 s) is
stale: the configured worst case stands in, which leaves the fallbacks to the cars. A line that a meter
does not report is unknown, never 0.

In a delta a total minus the cars' current is only a lower bound of the base load, as the angle between
them is unknown: a total is not used there.

A step of the load is not seen while a meter is silent and not yet stale, nor by anybody while we are dead and
offers still hold. Only room that is kept free covers it (`with_reserve`).
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from csms.power.installation import LINES, Installation, Line

STALE_PERIODS = 3
STALE_AT_LEAST_S = 30.0


class Counts(StrEnum):
    """What a building meter counts."""

    BASE = "base"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class BuildingMeter:
    """A meter at a circuit that reports every `period_s`; it is silent after three of them, but not
    before `stale_at_least_s`."""

    counts: Counts = Counts.BASE
    period_s: float = 10.0
    stale_at_least_s: float = STALE_AT_LEAST_S

    @property
    def stale_after_s(self) -> float:
        return max(STALE_PERIODS * self.period_s, self.stale_at_least_s)


@dataclass(frozen=True, slots=True)
class BuildingReading:
    """A per line at `at_s`; a line that was not reported is absent."""

    line_a: Mapping[Line, float]
    at_s: float


def is_fresh(meter: BuildingMeter, reading: BuildingReading | None, now_s: float) -> bool:
    """Whether the reading still says something about now."""
    return reading is not None and now_s - reading.at_s <= meter.stale_after_s


def with_reserve(
    base_a: Mapping[str, Mapping[Line, float]], site: Installation, metered: Collection[str], step_a: float
) -> Mapping[str, Mapping[Line, float]]:
    """`base_a` with `step_a` more on every line of the circuits that are metered: a step that may come while
    nobody sees it. Never more than the configured worst case, where there is one."""
    if not step_a:
        return base_a
    found = dict(base_a)
    for circuit in site.circuits:
        if circuit.id in metered:
            found[circuit.id] = {
                line: _stepped(amperes, step_a, circuit.base_a.get(line))
                for line, amperes in base_a[circuit.id].items()
            }
    return found


def _stepped(amperes: float, step_a: float, worst_a: float | None) -> float:
    return amperes + step_a if worst_a is None else max(amperes, min(amperes + step_a, worst_a))


def base_load(
    site: Installation,
    meters: Mapping[str, BuildingMeter],
    readings: Mapping[str, BuildingReading],
    drawn_a: Mapping[str, Mapping[Line, float]],
    now_s: float,
) -> dict[str, dict[Line, float]]:
    """Base load of each circuit itself (those below not counted), A per line.

    `drawn_a`: what our cars below each circuit draw.
    """
    below: dict[str | None, list[str]] = {}
    for circuit in site.circuits:
        below.setdefault(circuit.fed_from, []).append(circuit.id)
    by_id = {circuit.id: circuit for circuit in site.circuits}
    own: dict[str, dict[Line, float]] = {}

    def total(circuit_id: str) -> dict[Line, float]:
        """Base load of a circuit and of all below it; fills `own` on the way."""
        circuit = by_id[circuit_id]
        parts = [total(child) for child in below.get(circuit_id, ())]
        children = {line: sum(part.get(line, 0.0) for part in parts) for line in LINES}
        own[circuit_id] = {line: circuit.base_a.get(line, 0.0) for line in circuit.limit_a}
        meter, reading = meters.get(circuit_id), readings.get(circuit_id)
        usable = meter is not None and not (meter.counts is Counts.TOTAL and site.system.is_delta)
        if usable and meter is not None and reading is not None and is_fresh(meter, reading, now_s):
            for line, amperes in reading.line_a.items():
                if line in circuit.limit_a:
                    if meter.counts is Counts.TOTAL:
                        amperes -= drawn_a.get(circuit_id, {}).get(line, 0.0)
                    own[circuit_id][line] = max(0.0, amperes - children[line])
        return {line: own[circuit_id].get(line, 0.0) + children[line] for line in LINES}

    total(below[None][0])
    return own
