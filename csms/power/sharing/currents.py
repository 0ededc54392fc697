"""What cars put on every line of every circuit.

Star: all single-phase currents of a line are nearly in phase, so their sum in amperes is what it
carries, and an upper bound for any power factors. Delta (no neutral): a line carries the difference
of two pair currents, 60 degrees apart at unity power factor; with a = L1-L2 and b = L3-L1 line L1
carries sqrt(a² + b² + ab). Each car adds a fixed phasor per ampere, all within 60 degrees of each
other, so the magnitude grows strictly with each car.

A *row* is one line of one circuit (limit in A) or a circuit's power cap (limit in W).
"""

import cmath
import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import datetime

from csms.power.caps import Caps, Signals
from csms.power.installation import LINES, Installation, Line
from csms.power.sharing.demand import Connection, Load, usual_connection
from csms.units import NOMINAL_VOLTAGE_V

Path = tuple[tuple[int, complex], ...]
"""(row, contribution per ampere) for every row that a car loads."""

ROWS_PER_CIRCUIT = 4
CAP_ROW = 3

TOLERANCE = 1e-9
"""Relative; amperes below this are the arithmetic's, not the cars'."""

# Line-to-line voltages at 0, -120 and +120 degrees; each pair's current leaves its first line.
_PAIR_ANGLE = {
    (Line.L1, Line.L2): 0.0,
    (Line.L2, Line.L3): -2 * math.pi / 3,
    (Line.L3, Line.L1): 2 * math.pi / 3,
}
# A balanced load's current in each line lies midway between those of its two pairs.
_BALANCED_ANGLE = {Line.L1: -math.pi / 6, Line.L2: -5 * math.pi / 6, Line.L3: math.pi / 2}


def _pair(first: Line, second: Line) -> dict[Line, complex]:
    if (first, second) not in _PAIR_ANGLE:
        first, second = second, first
    current = cmath.rect(1.0, _PAIR_ANGLE[first, second])
    return {first: current, second: -current}


def phasors(connection: Connection, lines: tuple[Line, ...]) -> dict[Line, complex]:
    """Current in each supply line per ampere of the car's own conductor; real in the star."""
    if connection is Connection.LINES:
        return dict.fromkeys(lines, 1.0)
    if connection is Connection.PAIR:
        return _pair(*lines)
    if connection is Connection.BALANCED:
        return {line: cmath.rect(1.0, _BALANCED_ANGLE[line]) for line in lines}
    a, b, common = lines
    one, other = _pair(a, common), _pair(b, common)
    return {a: one[a], b: other[b], common: one[common] + other[common]}


def watts_per_ampere(connection: Connection, lines: tuple[Line, ...]) -> float:
    """Active power at unity power factor and nominal voltage, W per A."""
    if connection is Connection.LINES:
        return float(NOMINAL_VOLTAGE_V * len(lines))
    if connection is Connection.PAIR:
        return float(NOMINAL_VOLTAGE_V)
    if connection is Connection.BALANCED:
        return math.sqrt(3) * NOMINAL_VOLTAGE_V
    return 2.0 * NOMINAL_VOLTAGE_V


@dataclass(frozen=True, slots=True)
class MissingLine:
    """A circuit on the way to the supply does not have a line that is asked for."""

    circuit: str
    line: Line


class Network:
    """An installation laid out for arithmetic; make it once and keep it.

    `limits[row]` is in A (W for a cap row); NaN where the circuit lacks the line, infinite without a cap.
    """

    def __init__(self, installation: Installation) -> None:
        self.installation = installation
        circuits = installation.circuits
        self._index = {circuit.id: i for i, circuit in enumerate(circuits)}
        self._up: list[tuple[int, ...]] = []
        for circuit in circuits:
            way: list[int] = []
            at: str | None = circuit.id
            while at is not None:
                way.append(self._index[at])
                at = circuits[self._index[at]].fed_from
            self._up.append(tuple(way))
        self.limits: list[float] = []
        for circuit in circuits:
            self.limits += [circuit.limit_a.get(line, math.nan) for line in LINES]
            self.limits.append(math.inf if circuit.cap_w is None else circuit.cap_w)
        self.unbalances = tuple(
            (i, circuit.unbalance_a) for i, circuit in enumerate(circuits) if circuit.unbalance_a is not None
        )
        self._caps_w: Mapping[str, float] = {}
        self._capped = frozenset(i for i, circuit in enumerate(circuits) if circuit.cap_w is not None)
        self._paths: dict[tuple[str, str, str | None], Path | MissingLine] = {}
        self._paths_when = {self._capped: self._paths}
        self._shared: dict[Path, Path] = {}

    @property
    def circuits(self) -> Collection[str]:
        """The ids of all circuits."""
        return self._index.keys()

    def with_caps(self, caps_w: Mapping[str, float]) -> "Network":
        """The same network with these temporary caps in W by circuit, and no others; cheap.

        KeyError: unknown circuit. A cap above the circuit's own `cap_w` changes nothing.
        """
        if caps_w == self._caps_w:
            return self
        other = copy(self)
        other._caps_w = dict(caps_w)
        other.limits = list(self.limits)
        capped = set()
        for i, circuit in enumerate(self.installation.circuits):
            cap_w = min(
                math.inf if circuit.cap_w is None else circuit.cap_w, caps_w.get(circuit.id, math.inf)
            )
            other.limits[i * ROWS_PER_CIRCUIT + CAP_ROW] = cap_w
            if cap_w < math.inf:
                capped.add(i)
        for circuit_id in caps_w:
            self._index[circuit_id]
        other._capped = frozenset(capped)
        other._paths = self._paths_when.setdefault(other._capped, {})
        return other

    def at(self, now: datetime, signals: Signals | None = None) -> "Network":
        """The same network with the caps in force at `now`: those by the hour, and those by signal."""
        return self.with_caps(self.caps(signals).in_force(now))

    def caps(self, signals: Signals | None = None) -> Caps:
        """The site's temporary caps; ask them for the time of the next change."""
        windows = {c.id: c.cap_windows for c in self.installation.circuits if c.cap_windows}
        return Caps(self.installation.zone, windows, signals or {})

    def cap_w(self, circuit: str) -> float | None:
        """The lowest cap in force at `circuit`, in W; None: there is none. KeyError: unknown circuit."""
        cap_w = self.limits[self._index[circuit] * ROWS_PER_CIRCUIT + CAP_ROW]
        return None if math.isinf(cap_w) else cap_w

    def row_name(self, row: int) -> tuple[str, Line | None]:
        """Circuit and line of a row; the line is None for a cap."""
        circuit, place = divmod(row, ROWS_PER_CIRCUIT)
        return self.installation.circuits[circuit].id, None if place == CAP_ROW else LINES[place]

    def path(
        self, circuit: str, lines: tuple[Line, ...], connection: Connection | None = None
    ) -> Path | MissingLine:
        """The rows that a car on `circuit` loads, nearest circuit first. KeyError: unknown circuit."""
        # Plain texts as key: members of an Enum are hashed by slow code, and this is asked for each car.
        key = (circuit, "".join(lines), connection and connection._value_)
        found = self._paths.get(key)
        if found is None:
            connection = connection or usual_connection(self.installation.system, lines)
            found = self._paths[key] = self._make_path(circuit, lines, connection)
        return found

    def _make_path(self, circuit: str, lines: tuple[Line, ...], connection: Connection) -> Path | MissingLine:
        site = self.installation
        per_line = phasors(connection, lines)
        if site.system.is_delta:
            margin = 1.0 + site.delta_margin
            per_line = {
                line: (abs(value) if site.plain_addition else value) * margin
                for line, value in per_line.items()
            }
        # In the order of the supply's lines, so that cars that only turn theirs share one path.
        per_line = {line: per_line[line] for line in LINES if line in per_line}
        watts = watts_per_ampere(connection, lines)
        path: list[tuple[int, complex]] = []
        for i in self._up[self._index[circuit]]:
            for line, value in per_line.items():
                row = i * ROWS_PER_CIRCUIT + LINES.index(line)
                if math.isnan(self.limits[row]):
                    return MissingLine(site.circuits[i].id, line)
                path.append((row, value))
            if i in self._capped:
                path.append((i * ROWS_PER_CIRCUIT + CAP_ROW, watts))
        made = tuple(path)
        return self._shared.setdefault(made, made)

    def heads(self, base_a: Mapping[str, Mapping[Line, float]] | None = None) -> list[float]:
        """What each row leaves for cars: limit minus the base load of everything below.

        `base_a` replaces the assumed base load of the circuits it names; what a circuit's own base
        load is does not include that of circuits below. Base loads are magnitudes of unknown angle,
        so they are subtracted as they are, in the delta too. Below 0: the building alone is over.
        """
        heads = list(self.limits)
        given = base_a or {}
        for i, circuit in enumerate(self.installation.circuits):
            own = given.get(circuit.id, circuit.base_a)
            if not own:
                continue
            # In a delta P <= (U / sqrt 3) * (I1 + I2 + I3) for any loads without neutral.
            volts = NOMINAL_VOLTAGE_V / (math.sqrt(3) if self.installation.system.is_delta else 1.0)
            for line, amperes in own.items():
                place = LINES.index(line)
                for at in self._up[i]:
                    heads[at * ROWS_PER_CIRCUIT + place] -= amperes
                    heads[at * ROWS_PER_CIRCUIT + CAP_ROW] -= amperes * volts
        return heads

    def usage(self, loads: Iterable[Load] = ()) -> list[complex]:
        """Phasor sum of `loads` in every row. A load on a line that is not there counts where it can."""
        usage: list[complex] = [0.0] * len(self.limits)
        for load in loads:
            path = self.path(load.circuit, load.lines, load.connection)
            if isinstance(path, MissingLine):
                raise KeyError(f"{path.circuit} has no {path.line}")
            for row, value in path:
                usage[row] += load.current_a * value
        return usage

    def line_currents(
        self, usage: Sequence[complex], base_a: Mapping[str, Mapping[Line, float]] | None = None
    ) -> dict[str, dict[Line, float]]:
        """A per circuit and line: the base load's magnitude and the cars' phasor sum."""
        heads = self.heads(base_a)
        return {
            circuit.id: {
                line: self.limits[row] - heads[row] + abs(usage[row])
                for place, line in enumerate(LINES)
                if not math.isnan(self.limits[row := i * ROWS_PER_CIRCUIT + place])
            }
            for i, circuit in enumerate(self.installation.circuits)
        }


def by_path(paths: Iterable[Path], amperes: Iterable[float]) -> list[tuple[Path, float]]:
    """The amperes of cars on one circuit and line, which share one path object, summed up."""
    of: dict[int, Path] = {}
    sums: dict[int, float] = {}
    for path, current in zip(paths, amperes, strict=True):
        key = id(path)
        if key in sums:
            sums[key] += current
        else:
            of[key], sums[key] = path, current
    return [(of[key], current) for key, current in sums.items()]


def level_at(used: complex, slope: complex, head: float) -> float:
    """The t at which |used + t * slope| reaches `head`; infinite when it never does.

    Below 0 or 0 when it is there already. `slope` and `used` are within 60 degrees of each other.
    """
    steep = abs(slope)
    if steep <= 1e-12:
        return math.inf
    if math.isinf(head):
        return math.inf
    if not slope.imag and not used.imag:  # as in the star: no root is needed
        return (head - abs(used)) / steep
    a = steep * steep
    b = used.real * slope.real + used.imag * slope.imag
    c = abs(used) ** 2 - head * head if head > 0 else math.inf
    if c >= 0:
        return 0.0 if c == 0 else -math.inf
    root = math.sqrt(b * b - a * c)
    return -c / (b + root) if b > 0 else (root - b) / a
