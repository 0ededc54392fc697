"""The highest base load of the last minute: room for a car to start must have lasted that long.

Kept in parts of a few seconds, so that the memory of a minute is a dozen small tables.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from csms.power.installation import Line

WINDOW_S = 60.0
PART_S = 5.0

Base = Mapping[str, Mapping[Line, float]]


@dataclass(frozen=True, slots=True)
class Calm:
    """`parts`: when each began, and the highest A per circuit and line in it."""

    parts: tuple[tuple[float, Base], ...] = ()

    def seen(self, base_a: Base, now_s: float) -> "Calm":
        """The base load is `base_a` now."""
        kept = tuple(part for part in self.parts if part[0] > now_s - WINDOW_S - PART_S)
        if kept and now_s < kept[-1][0] + PART_S:
            since, before = kept[-1]
            return Calm((*kept[:-1], (since, _higher(before, base_a))))
        return Calm((*kept, (now_s, base_a)))

    def highest(self) -> Base:
        """A per circuit and line."""
        found: Base = {}
        for _, base_a in self.parts:
            found = _higher(found, base_a)
        return found


def _higher(one: Base, other: Base) -> Base:
    return {
        circuit: {
            line: max(one.get(circuit, {}).get(line, 0.0), other.get(circuit, {}).get(line, 0.0))
            for line in {**one.get(circuit, {}), **other.get(circuit, {})}
        }
        for circuit in {**one, **other}
    }
