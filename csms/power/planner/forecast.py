"""What the building will take, from what it took.

For each quarter of the day, weekdays and weekends apart, the `quantile` of what was measured in that quarter
(0.8 to 0.9 is common practice for such a plan; the live limits hold whatever comes). A quarter needs a
week's measurements of its kind of day. Until then the largest so far stands for every hour, once a whole
day is known, and before that the configured worst case; the plan says which.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from enum import StrEnum

from csms.power.installation import LINES, Installation, Line
from csms.power.planner.slots import SLOTS, Slots

ENOUGH = {False: 5, True: 2}
"""Measurements of a quarter: five weekdays, or two days of a weekend."""


class Basis(StrEnum):
    """What a circuit's forecast rests on."""

    HISTORY = "history"
    LARGEST = "largest_so_far"
    CONFIGURED = "configured"


@dataclass(frozen=True, slots=True)
class BaseSample:
    """The highest base load of a circuit in the quarter of an hour that begins at `at`, A on L1, L2, L3."""

    circuit: str
    at: datetime
    line_a: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Forecast:
    """`line_a`: by circuit and slot, A per line, circuits below not counted. `basis`: by circuit, the weakest
    of its slots."""

    line_a: Mapping[str, tuple[Mapping[Line, float], ...]]
    basis: Mapping[str, Basis]

    def at(self, slot: int) -> dict[str, Mapping[Line, float]]:
        """The base load of every circuit in one slot."""
        return {circuit: lines[slot] for circuit, lines in self.line_a.items()}


def forecast(site: Installation, samples: Iterable[BaseSample], slots: Slots, *, quantile: float) -> Forecast:
    """The base load of each circuit in each slot."""
    by_circuit: dict[str, list[BaseSample]] = {}
    for sample in samples:
        by_circuit.setdefault(sample.circuit, []).append(sample)
    keys = [_key(edge, site.zone) for edge in slots.edges[:-1]]
    line_a: dict[str, tuple[Mapping[Line, float], ...]] = {}
    basis: dict[str, Basis] = {}
    for circuit in site.circuits:
        found = by_circuit.get(circuit.id, [])
        configured = {line: circuit.base_a.get(line, 0.0) for line in circuit.limit_a}
        if len(found) < SLOTS:
            line_a[circuit.id], basis[circuit.id] = (configured,) * len(slots), Basis.CONFIGURED
            continue
        quarters: dict[tuple[bool, int], list[BaseSample]] = {}
        for sample in found:
            quarters.setdefault(_key(sample.at, site.zone), []).append(sample)
        largest = {line: max(s.line_a[LINES.index(line)] for s in found) for line in circuit.limit_a}
        made: dict[tuple[bool, int], Mapping[Line, float]] = {}
        weakest = Basis.HISTORY
        for key in keys:
            those = quarters.get(key, [])
            if key not in made and len(those) >= ENOUGH[key[0]]:
                made[key] = {
                    line: quantile_of([s.line_a[LINES.index(line)] for s in those], quantile)
                    for line in circuit.limit_a
                }
            elif key not in made:
                weakest = Basis.LARGEST
        line_a[circuit.id] = tuple(made.get(key, largest) for key in keys)
        basis[circuit.id] = weakest
    return Forecast(line_a, basis)


def quantile_of(values: list[float], quantile: float) -> float:
    """The quantile by linear interpolation between the ordered values (Hyndman and Fan, type 7)."""
    ordered = sorted(values)
    place = quantile * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def _key(at: datetime, zone: tzinfo) -> tuple[bool, int]:
    """(weekend, quarter of the day) by the site's clock."""
    local = at.astimezone(zone)
    return local.isoweekday() >= 6, local.hour * 4 + local.minute // 15


LineAmps = Mapping[str, Mapping[Line, float]]


def strays(forecast_a: LineAmps, now_a: LineAmps) -> float:
    """By how many A the base load is above its forecast, on the line where that is most."""
    return max(
        (
            value - forecast_a.get(circuit, {}).get(line, 0.0)
            for circuit, lines in now_a.items()
            for line, value in lines.items()
        ),
        default=0.0,
    )
