"""The site check: is silence safe?

Whatever dies, every station falls back by itself. So the sum of all fallbacks and the worst-case base
load must fit every circuit on every line; a station that keeps no profiles counts with its full rating.
In the delta amperes are added as they are: which pair a car will load is not known beforehand.
"""

from dataclasses import dataclass, replace

from csms.power.currents import Network
from csms.power.demand import Load, usual_connection
from csms.power.installation import Installation, Line, Wiring


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


def overloads_in_silence(site: Installation) -> tuple[Overload, ...]:
    """Every circuit and line that would be over its limit; empty: the site is safe in silence."""
    network = Network(replace(site, plain_addition=True, delta_margin=0.0))
    usage = network.usage(
        Load(w.circuit, w.rotation, usual_connection(site.system, w.rotation), silent_current_a(w))
        for w in site.wirings
    )
    found = []
    for row, (head, cars) in enumerate(zip(network.heads(), usage, strict=True)):
        if abs(cars) > head + 1e-9:
            circuit, line = network.row_name(row)
            limit = network.limits[row]
            found.append(Overload(circuit, line, round(limit - head + abs(cars), 3), limit))
    return tuple(found)
