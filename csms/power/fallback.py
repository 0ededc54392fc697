"""The site check: is silence safe?

Whatever dies, every station falls back by itself. So the sum of all fallbacks and the worst-case base
load must fit every circuit on every line; a station that keeps no profiles counts with its full rating.
In the delta amperes are added as they are: which pair a car will load is not known beforehand.
"""

import math
from dataclasses import dataclass, replace

from csms.power.installation import Circuit, Installation, Line, Wiring
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Load, usual_connection


@dataclass(frozen=True, slots=True)
class Overload:
    """A circuit that would not hold when nobody hears us: A per line, or W where `line` is None."""

    circuit: str
    line: Line | None
    carries: float
    limit: float

    def __str__(self) -> str:
        unit = "A" if self.line else "W"
        where = f"{self.circuit} {self.line}" if self.line else f"{self.circuit} (cap)"
        return f"{where}: fallbacks and base load make {self.carries:g} {unit} of {self.limit:g} {unit}"


def silent_current_a(wiring: Wiring) -> float:
    """What the EVSE may draw, in A, when it has not heard us for long."""
    return wiring.fallback_a if wiring.keeps_profiles else wiring.max_current_a


@dataclass(frozen=True, slots=True)
class Carried:
    """What a circuit carries when nobody hears us: A on a line, or W of its cap where `line` is None.

    `base`: the building at its worst, circuits below included; `stations`: all that fall back.
    """

    circuit: str
    line: Line | None
    base: float
    stations: float
    limit: float

    @property
    def together(self) -> float:
        return round(self.base + self.stations, 3)

    @property
    def fits(self) -> bool:
        return self.base + self.stations <= self.limit + 1e-9


def carried_in_silence(site: Installation) -> tuple[Carried, ...]:
    """Every line of every circuit, and every cap (the lowest of the day), with what silence puts on it."""
    circuits = tuple(replace(c, cap_w=_lowest_cap(c), cap_windows=()) for c in site.circuits)
    network = Network(replace(site, circuits=circuits, plain_addition=True, delta_margin=0.0))
    usage = network.usage(
        Load(w.circuit, w.rotation, usual_connection(site.system, w.rotation), silent_current_a(w))
        for w in site.wirings
    )
    found = []
    for row, (head, cars) in enumerate(zip(network.heads(), usage, strict=True)):
        limit = network.limits[row]
        if math.isfinite(limit):
            circuit, line = network.row_name(row)
            found.append(Carried(circuit, line, limit - head, abs(cars), limit))
    return tuple(found)


def _lowest_cap(circuit: Circuit) -> float | None:
    caps = [window.cap_w for window in circuit.cap_windows]
    return min(caps if circuit.cap_w is None else [*caps, circuit.cap_w], default=None)


def overloads_in_silence(site: Installation) -> tuple[Overload, ...]:
    """Every circuit and line that would be over its limit; empty: the site is safe in silence."""
    return tuple(
        Overload(row.circuit, row.line, row.together, row.limit)
        for row in carried_in_silence(site)
        if not row.fits
    )
