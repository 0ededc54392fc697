"""The supply of a site as a tree of circuits, and how its stations are wired to it.

Currents are in A per line (r.m.s.), powers in W. An `Installation` that exists is sound:
what is wrong is refused when it is made, with the path of the field.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from enum import StrEnum
from importlib.util import find_spec
from typing import NamedTuple

from csms.errors import InvalidInput
from csms.power.caps import CapWindow
from csms.power.sharing.strategy import Fairness, Strategy
from csms.units import LOWEST_CURRENT_A


class Line(StrEnum):
    """A line (phase conductor) of the supply, as IEC 60445 names it."""

    L1 = "L1"
    L2 = "L2"
    L3 = "L3"


LINES: tuple[Line, ...] = (Line.L1, Line.L2, Line.L3)


class System(StrEnum):
    """How the supply is earthed and at which voltage (IEC 60364-1); 230 V between what a car uses."""

    TN_400 = "TN-400"
    TT_400 = "TT-400"
    IT_230 = "IT-230"
    TT_230 = "TT-230"

    @property
    def is_delta(self) -> bool:
        """No usable neutral: cars connect between two lines."""
        return self in (System.IT_230, System.TT_230)


class Evse(NamedTuple):
    """One EVSE of a station: where one car can charge."""

    station_id: str
    evse_id: int

    def __str__(self) -> str:
        return f"{self.station_id}/{self.evse_id}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A fused part of the supply.

    `limit_a`: what the installer allows per line; a line that is absent is not there. `device_a`: rating
    of the fuse or breaker itself. `cap_w`: subscribed power, all lines; `cap_windows`: lower at some hours
    of the day. `unbalance_a`: how much more than the cars on the least loaded line those on another may
    take (star only; the building is not counted). `base_a`: what everything that is not a charger draws
    here, circuits below not counted; the worst case, as it is assumed whenever nothing measures it.
    """

    id: str
    fed_from: str | None = None
    limit_a: Mapping[Line, float]
    device_a: float | None = None
    cap_w: float | None = None
    cap_windows: tuple[CapWindow, ...] = ()
    unbalance_a: float | None = None
    base_a: Mapping[Line, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """How one EVSE hangs on the supply.

    `rotation`: the supply's lines that the station's L1, L2, L3 are wired to, e.g. (L2, L3, L1);
    shorter for a station with fewer lines. `fallback_a`: what it may draw when it cannot hear us,
    0 or at least 6 A. `keeps_profiles` False: it forgets our limits and counts with its full rating
    whenever it is unreachable. `times_offline`: it ends a limit by itself after some time off line.
    """

    evse: Evse
    circuit: str
    rotation: tuple[Line, ...] = LINES
    max_current_a: float = 32.0
    step_a: float = 1.0
    fallback_a: float = LOWEST_CURRENT_A
    can_choose_line: bool = False
    keeps_profiles: bool = True
    times_offline: bool = False

    def supply_lines(self, used: tuple[bool, ...] | None = None) -> tuple[Line, ...]:
        """The supply's lines, for those of the station's lines that are `used` (None: all)."""
        if used is None:
            return self.rotation
        return tuple(line for line, use in zip(self.rotation, used, strict=False) if use)


@dataclass(frozen=True, slots=True, kw_only=True)
class Installation:
    """One site's supply.

    `delta_margin`: in a delta, how much more than the phasor sum at unity power factor to count
    (0.08 = 8 % covers a spread of power factors); `plain_addition`: add amperes there instead.
    `fairness`: amperes or kilowatts. `strategy` None: by weight. `zone`: the site's own clock.
    """

    system: System
    circuits: tuple[Circuit, ...]
    wirings: tuple[Wiring, ...] = ()
    delta_margin: float = 0.0
    plain_addition: bool = False
    fairness: Fairness = Fairness.AMPERES
    strategy: Strategy | None = None
    zone: tzinfo = UTC

    def __post_init__(self) -> None:
        _check_tree(self.circuits)
        _check_number("delta_margin", self.delta_margin)
        by_id = {circuit.id: circuit for circuit in self.circuits}
        for i, circuit in enumerate(self.circuits):
            _check_circuit(f"circuits[{i}]", circuit, by_id)
            _check_unbalance(f"circuits[{i}].unbalance_a", circuit, self.system)
        seen: set[Evse] = set()
        for i, wiring in enumerate(self.wirings):
            if wiring.evse in seen:
                raise InvalidInput(f"stations[{i}].evse", f"{wiring.evse} is there twice")
            seen.add(wiring.evse)
            _check_wiring(f"stations[{i}]", wiring, by_id, self.system)

    def circuit(self, circuit_id: str) -> Circuit:
        """The circuit of that id; KeyError when there is none."""
        for circuit in self.circuits:
            if circuit.id == circuit_id:
                return circuit
        raise KeyError(circuit_id)

    def wiring(self, evse: Evse) -> Wiring:
        """How `evse` is wired; KeyError when it is not of this site."""
        for wiring in self.wirings:
            if wiring.evse == evse:
                return wiring
        raise KeyError(evse)


def _check_number(path: str, value: float | None, *, above: float = 0.0) -> None:
    if value is None:
        return
    if not math.isfinite(value):
        raise InvalidInput(path, f"must be a finite number, not {value}")
    if value < above:
        raise InvalidInput(path, f"must be at least {above:g}, not {value:g}")


def _check_tree(circuits: tuple[Circuit, ...]) -> None:
    if not circuits:
        raise InvalidInput("circuits", "must have at least one circuit, the supply")
    feeds: dict[str, str | None] = {}
    for i, circuit in enumerate(circuits):
        if not circuit.id:
            raise InvalidInput(f"circuits[{i}].id", "must not be empty")
        if circuit.id in feeds:
            raise InvalidInput(f"circuits[{i}].id", f"{circuit.id!r} is there twice")
        feeds[circuit.id] = circuit.fed_from
    root: str | None = None
    for i, circuit in enumerate(circuits):
        path = f"circuits[{i}].fed_from"
        if circuit.fed_from is None:
            if root is not None:
                raise InvalidInput(path, f"the supply is {root!r} already; only one circuit has no feed")
            root = circuit.id
        elif circuit.fed_from not in feeds:
            raise InvalidInput(path, f"there is no circuit {circuit.fed_from!r}")
    good: set[str] = set()
    for i, circuit in enumerate(circuits):
        trail: list[str] = []
        at: str | None = circuit.id
        while at is not None and at not in good:
            if at in trail:
                loop = " -> ".join([*trail[trail.index(at) :], at])
                raise InvalidInput(f"circuits[{i}].fed_from", f"makes a loop: {loop}")
            trail.append(at)
            at = feeds[at]
        good.update(trail)
    if root is None:
        raise InvalidInput("circuits", "none is the supply; one must have fed_from null")


def _check_circuit(path: str, circuit: Circuit, by_id: Mapping[str, Circuit]) -> None:
    if not circuit.limit_a:
        raise InvalidInput(f"{path}.limit_a", "must name at least one line")
    parent = by_id[circuit.fed_from] if circuit.fed_from is not None else None
    for line, limit in circuit.limit_a.items():
        where = f"{path}.limit_a.{line}"
        _check_number(where, limit)
        if circuit.device_a is not None and limit > circuit.device_a:
            raise InvalidInput(where, f"{limit:g} A is above the device's {circuit.device_a:g} A")
        if parent is not None and line not in parent.limit_a:
            raise InvalidInput(where, f"{circuit.fed_from!r}, which feeds it, has no {line}")
    for line, base in circuit.base_a.items():
        where = f"{path}.base_a.{line}"
        _check_number(where, base)
        if line not in circuit.limit_a:
            raise InvalidInput(where, f"the circuit has no {line}")
    _check_number(f"{path}.device_a", circuit.device_a)
    _check_number(f"{path}.cap_w", circuit.cap_w)


def _check_unbalance(path: str, circuit: Circuit, system: System) -> None:
    if circuit.unbalance_a is None:
        return
    _check_number(path, circuit.unbalance_a)
    if system.is_delta:
        raise InvalidInput(path, f"is kept only where there is a neutral, not in {system}; leave it out")
    if find_spec("highspy") is None:
        raise InvalidInput(path, "needs a solver to be kept: install phaseyard[optimise], or leave it out")


def _check_wiring(path: str, wiring: Wiring, by_id: Mapping[str, Circuit], system: System) -> None:
    circuit = by_id.get(wiring.circuit)
    if circuit is None:
        raise InvalidInput(f"{path}.circuit", f"there is no circuit {wiring.circuit!r}")
    fewest = 2 if system.is_delta else 1
    if not fewest <= len(wiring.rotation) <= 3:
        raise InvalidInput(f"{path}.rotation", f"must name {fewest} to 3 lines in {system}")
    for i, line in enumerate(wiring.rotation):
        if line in wiring.rotation[:i]:
            raise InvalidInput(f"{path}.rotation[{i}]", f"{line} is there twice")
        if line not in circuit.limit_a:
            raise InvalidInput(f"{path}.rotation[{i}]", f"circuit {circuit.id!r} has no {line}")
    _check_number(f"{path}.max_current_a", wiring.max_current_a, above=LOWEST_CURRENT_A)
    if wiring.step_a not in (1.0, 0.1):
        raise InvalidInput(f"{path}.step_a", f"must be 1 or 0.1, not {wiring.step_a:g}")
    _check_number(f"{path}.fallback_a", wiring.fallback_a)
    if 0 < wiring.fallback_a < LOWEST_CURRENT_A:
        raise InvalidInput(
            f"{path}.fallback_a",
            f"must be 0 or at least {LOWEST_CURRENT_A:g}: a car cannot be told {wiring.fallback_a:g} A",
        )
    if wiring.fallback_a > wiring.max_current_a:
        raise InvalidInput(f"{path}.fallback_a", f"is above the station's {wiring.max_current_a:g} A")
