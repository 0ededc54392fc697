"""The schema of a site file. Strict: what is not known is refused; all faults are found at once.

An entry with a fault is left out of the description, so that the rest can still be proved. What is
between two values of one entry is checked by the same functions that guard the database.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from csms.errors import InvalidInput
from csms.metering.inputs import parse_input
from csms.money import Currency
from csms.sitefile.description import UNDATED, Description, Planned
from csms.sitefile.document import compose
from csms.sitefile.fields import Fields, Ledger
from csms.sitefile.places import Fault, nearest
from csms.sitefile.tree import hanging, tree_faults
from csms.sites.model import (
    LARGEST_CURRENT_A,
    LARGEST_POWER_W,
    LONGEST_PERIOD_S,
    NO_AMPS,
    CapWindow,
    Circuit,
    CircuitMeter,
    Fairness,
    MeterCounts,
    Sharing,
    Site,
    System,
    check_circuit,
    check_id,
    check_name,
    check_time_zone,
)
from csms.stations.model import Registration
from csms.stations.record import (
    LARGEST_CURRENT_A as LARGEST_STATION_A,
)
from csms.stations.record import (
    LONGEST_SERIAL,
    MOST_EVSES,
    Station,
    check_identity,
    check_station,
    serial_key,
)
from csms.units import LOWEST_CURRENT_A

TOP_KEYS = ("site", "circuits", "stations")
SITE_NEEDS = ("id", "name", "time_zone", "currency", "system")
SITE_KEYS = (*SITE_NEEDS, "strategy", "fairness")
CIRCUIT_KEYS = (
    "id", "name", "fed_from", "limit_a", "device_a", "cap_w", "cap_windows", "unbalance_a", "worst_base_a",
    "meter",
)  # fmt: skip
WINDOW_KEYS = ("start", "end", "cap_w")
METER_KEYS = ("counts", "period_s", "input")
STATION_KEYS = (
    "identity", "serial", "name", "circuit", "evses", "wiring", "max_current_a", "step_a", "fallback_a",
    "can_choose_line", "keeps_profiles",
)  # fmt: skip

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Parsed:
    """`description` None: the site itself cannot be made out. `readable` False: it is no YAML mapping.

    With `faults` the description holds only what is sound; `left_out` is how many entries are not.
    """

    description: Description | None
    faults: tuple[Fault, ...]
    readable: bool = True
    left_out: int = 0


def parse(text: str) -> Parsed:
    """A site file's text as a description, and everything that is wrong with it, in order of place."""
    root = compose(text)
    if isinstance(root, Fault):
        return Parsed(None, (root,), readable=False)
    ledger = Ledger()
    top = Fields(ledger, root, "", TOP_KEYS)
    if ledger.faults and not ledger.places.keys() - {""}:
        return Parsed(None, tuple(sorted(ledger.faults)), readable=bool(root.tag.endswith(":map")))
    top.require("site", "circuits")
    site = _site(top)
    reader = _Reader(ledger, site)
    circuits = reader.circuits(top)
    stations = reader.stations(top, circuits)
    description = Description(
        site,
        circuits,
        stations,
        circuit_paths=reader.circuit_paths,
        station_paths=reader.station_paths,
        places=ledger.places,
    )
    return Parsed(description, tuple(sorted(ledger.faults)), left_out=reader.left_out)


def _site(top: Fields) -> Site:
    """The site; where something is wrong with it a stand-in, so that the rest can be looked at."""
    fields = top.mapping("site", SITE_KEYS)
    stand_in = Site(
        id="site",
        name="Site",
        time_zone="UTC",
        currency="EUR",
        system=System.TN_400,
        active=False,
        created_at=UNDATED,
    )
    if fields is None:
        return stand_in
    fields.require(*SITE_NEEDS)
    return Site(
        id=fields.checked("id", check_id) or stand_in.id,
        name=fields.checked("name", check_name) or stand_in.name,
        time_zone=fields.checked("time_zone", check_time_zone) or stand_in.time_zone,
        currency=fields.checked("currency", lambda _, code: Currency(code).code) or stand_in.currency,
        system=fields.choice("system", System) or stand_in.system,
        strategy=fields.choice("strategy", Sharing) or stand_in.strategy,
        fairness=fields.choice("fairness", Fairness) or stand_in.fairness,
        active=False,
        created_at=UNDATED,
    )


class _Reader:
    """Reads the lists; keeps where each entry stands."""

    def __init__(self, ledger: Ledger, site: Site) -> None:
        self._ledger = ledger
        self._site = site
        self.circuit_paths: dict[str, str] = {}
        self.station_paths: dict[str, str] = {}
        self._feeds: dict[str, str | None] = {}
        self._serials: dict[str, str] = {}
        self.left_out = 0

    def circuits(self, top: Fields) -> tuple[Circuit, ...]:
        """The circuits that are sound and hang, by sound circuits, on the one supply."""
        found: list[Circuit] = []
        for fields in top.mappings("circuits", CIRCUIT_KEYS):
            circuit = self._sound(fields, self._circuit)
            if circuit is not None:
                found.append(circuit)
        if not self._feeds and top.has("circuits"):
            top.fault("circuits", "must have at least one circuit, the supply")
        elif self._feeds and None not in self._feeds.values():
            top.fault("circuits", "none of them is the supply; one must have no fed_from")
        for circuit_id, problem in tree_faults(self._feeds):
            path = f"{self.circuit_paths[circuit_id]}.fed_from"
            self._ledger.fault(nearest(self._ledger.places, path), path, problem)
        tree = hanging(tuple(found))
        self.left_out += len(found) - len(tree)
        return tree

    def stations(self, top: Fields, circuits: tuple[Circuit, ...]) -> tuple[Planned, ...]:
        """The stations that are sound and hang on one of `circuits`."""
        sound = {circuit.id for circuit in circuits}
        found: list[Planned] = []
        for fields in top.mappings("stations", STATION_KEYS):
            planned = self._sound(fields, self._station)
            if planned is not None and planned.station.circuit_id in sound:
                found.append(planned)
            elif planned is not None:
                self.left_out += 1
        return tuple(found)

    def _sound(self, fields: Fields, read: Callable[[Fields], T | None]) -> T | None:
        value = read(fields)
        inside = tuple(f"{fields.path}{sign}" for sign in ".[")
        if not any(f.path == fields.path or f.path.startswith(inside) for f in self._ledger.faults):
            return value
        self.left_out += 1
        return None

    def _circuit(self, fields: Fields) -> Circuit | None:
        fields.require("id", "limit_a")
        circuit_id = fields.checked("id", check_id)
        fed_from = fields.text("fed_from") if fields.has("fed_from") else None
        if circuit_id is not None and circuit_id in self.circuit_paths:
            fields.fault("id", f"{circuit_id!r} is there twice; each circuit has its own id")
        elif circuit_id is not None:
            self.circuit_paths[circuit_id] = fields.path
            self._feeds[circuit_id] = fed_from
        limit_a = fields.line_amps("limit_a")
        cap_w = fields.whole("cap_w", highest=LARGEST_POWER_W)
        circuit = Circuit(
            id=circuit_id or "circuit",
            site_id=self._site.id,
            name=(fields.checked("name", check_name) if fields.has("name") else circuit_id) or "circuit",
            fed_from=fed_from,
            limit_a=limit_a or NO_AMPS,
            cap_w=cap_w,
            cap_windows=tuple(
                window for each in fields.mappings("cap_windows", WINDOW_KEYS) if (window := _window(each))
            ),
            unbalance_a=fields.number("unbalance_a", highest=LARGEST_CURRENT_A),
            worst_base_a=(fields.line_amps("worst_base_a") if fields.has("worst_base_a") else None)
            or NO_AMPS,
            device_a=fields.number("device_a", highest=LARGEST_CURRENT_A),
            meter=_meter(fields),
        )
        if limit_a is not None:
            # A limit above the device's rating does not hinder the rest: `check` tells of it.
            self._checked(fields, lambda: check_circuit(_alone(circuit), ()))
        if (meter := circuit.meter) is not None:
            self._checked(fields, lambda: parse_input(meter.input))
        return circuit

    def _station(self, fields: Fields) -> Planned | None:
        fields.require("identity", "circuit")
        identity = fields.checked("identity", check_identity)
        if identity is not None and identity in self.station_paths:
            fields.fault("identity", f"{identity!r} is there twice; each station has its own identity")
        elif identity is not None:
            self.station_paths[identity] = fields.path
        circuit_id = fields.text("circuit")
        if circuit_id is not None and circuit_id not in self.circuit_paths:
            fields.fault("circuit", f"there is no circuit {circuit_id!r}")
        wiring = fields.texts("wiring") if fields.has("wiring") else ("L1", "L2", "L3")
        evses = fields.whole("evses", lowest=1, highest=MOST_EVSES)
        faults = len(self._ledger.faults)
        highest = LARGEST_STATION_A
        max_a = _given(fields.number("max_current_a", lowest=LOWEST_CURRENT_A, highest=highest), 32.0)
        fallback_a = _given(fields.number("fallback_a", highest=highest), 0.0)
        step_a = _given(fields.number("step_a"), 1.0)
        station = Station(
            id=identity or "station",
            registration=Registration.ACCEPTED,
            created_at=UNDATED,
            name=(fields.text("name") if fields.has("name") else None) or "",
            site_id=self._site.id,
            circuit_id=circuit_id,
            wiring=wiring or ("L1", "L2", "L3"),
            max_current_a=max_a,
            step_a=step_a,
            fallback_a=fallback_a,
            can_choose_line=fields.flag("can_choose_line", False),
            keeps_profiles=fields.flag("keeps_profiles", True),
            expected_serial=self._serial(fields),
        )
        if len(self._ledger.faults) == faults and identity is not None:
            self._checked(fields, lambda: check_station(station))
        return Planned(station, evses or 1)

    def _serial(self, fields: Fields) -> str:
        serial = (fields.text("serial") if fields.has("serial") else None) or ""
        if len(serial) > LONGEST_SERIAL:
            fields.fault("serial", f"has {len(serial)} characters; at most {LONGEST_SERIAL} are kept")
        key = serial_key(serial)
        if key and key in self._serials:
            fields.fault("serial", f"{serial!r} is there twice, also at {self._serials[key]}")
        elif key:
            self._serials[key] = fields.path
        return serial

    def _checked(self, fields: Fields, check: Callable[[], object]) -> None:
        try:
            check()
        except InvalidInput as error:
            path = f"{fields.path}.{error.field}"
            self._ledger.fault(nearest(self._ledger.places, path), path, error.problem)


def _alone(circuit: Circuit) -> Circuit:
    return Circuit(
        id=circuit.id,
        site_id=circuit.site_id,
        name=circuit.name,
        fed_from=None,
        limit_a=circuit.limit_a,
        cap_w=circuit.cap_w,
        cap_windows=circuit.cap_windows,
        unbalance_a=circuit.unbalance_a,
        worst_base_a=circuit.worst_base_a,
        meter=circuit.meter,
    )


def _window(fields: Fields) -> CapWindow | None:
    fields.require(*WINDOW_KEYS)
    start, end = fields.clock_time("start"), fields.clock_time("end")
    cap_w = fields.whole("cap_w", highest=LARGEST_POWER_W)
    return None if start is None or end is None or cap_w is None else CapWindow(start, end, cap_w)


def _meter(circuit: Fields) -> CircuitMeter | None:
    fields = circuit.mapping("meter", METER_KEYS)
    if fields is None:
        return None
    fields.require("counts", "period_s")
    counts = fields.choice("counts", MeterCounts)
    period_s = fields.number("period_s", highest=LONGEST_PERIOD_S)
    given = fields.plain("input") if fields.has("input") else None
    return None if counts is None or period_s is None else CircuitMeter(counts, period_s, given)


def _given(value: float | None, default: float) -> float:
    return default if value is None else value
