"""The site check: is this site safe when nobody hears us, and can it be steered at all?

Faults are arithmetic: a limit above its device, a line that is not there, a sum of fallbacks and worst
base load above a limit (with the lowest cap of the day, and the full rating of a station that keeps no
profiles). The same functions prove a site before it is made active.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from csms.errors import InvalidInput
from csms.power.fallback import Carried, carried_in_silence
from csms.power.installation import Installation
from csms.power.records import installation
from csms.sitefile.description import Description, Planned
from csms.sitefile.findings import Finding, Severity, at_circuit, at_station
from csms.sitefile.hints import hints
from csms.sites.model import LINES, Circuit, System


@dataclass(frozen=True, slots=True)
class Proof:
    """`carried`: what silence puts on every line; empty where it could not be added up."""

    findings: tuple[Finding, ...]
    carried: tuple[Carried, ...]

    @property
    def safe(self) -> bool:
        return all(finding.severity is not Severity.FAULT for finding in self.findings)


def prove(description: Description) -> Proof:
    """Everything that can be said of a description without being there."""
    if not description.circuits:
        return Proof((), ())  # that there is none, or none that is sound, is told of already
    faults = [*_devices(description), *_missing_lines(description)]
    bad = set(_badly_wired(description))
    faults += [
        at_station(Severity.FAULT, description, station_id, "wiring", text) for station_id, text in bad
    ]
    left_out = {station_id for station_id, _ in bad}
    sound = replace(
        description, stations=tuple(p for p in description.stations if p.station.id not in left_out)
    )
    carried: tuple[Carried, ...] = ()
    try:
        site = _silent(sound)
    except InvalidInput as error:
        if not faults:
            faults.append(_refused(sound, error))
    else:
        carried = carried_in_silence(site)
        faults += [_overload(sound, row) for row in carried if not row.fits]
    return Proof((*faults, *hints(description)), carried)


def _silent(description: Description) -> Installation:
    """The installation as it counts in silence; a limit above its device is told of already."""
    circuits = tuple(replace(circuit, device_a=None) for circuit in description.circuits)
    return installation(
        description.site,
        circuits,
        [planned.station for planned in description.stations],
        [evse for planned in description.stations for evse in planned.numbered()],
        delta_margin_percent=0.0,
    )


def _devices(description: Description) -> Iterator[Finding]:
    for circuit in description.circuits:
        for line, limit in zip(LINES, circuit.limit_a, strict=True):
            if circuit.device_a is not None and limit > circuit.device_a:
                text = f"{limit:g} A is above the device's rating of {circuit.device_a:g} A"
                yield at_circuit(Severity.FAULT, description, circuit.id, f"limit_a.{line}", text)


def _missing_lines(description: Description) -> Iterator[Finding]:
    by_id = {circuit.id: circuit for circuit in description.circuits}
    for circuit in description.circuits:
        above = by_id.get(circuit.fed_from or "")
        for i, line in enumerate(LINES):
            if above is not None and circuit.limit_a[i] > 0 and above.limit_a[i] == 0:
                text = f"{above.id!r}, which feeds it, has no {line}"
                yield at_circuit(Severity.FAULT, description, circuit.id, f"limit_a.{line}", text)


def _badly_wired(description: Description) -> Iterator[tuple[str, str]]:
    """(station id, what is wrong) of stations on lines that are not there, or on too few."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    delta = description.site.system in (System.IT_230, System.TT_230)
    for planned in description.stations:
        station = planned.station
        circuit = by_id[station.circuit_id or ""]
        missing = [line for line in station.wiring if circuit.limit_a[LINES.index(line)] == 0]
        if missing:
            yield station.id, f"circuit {circuit.id!r} has no {' and no '.join(missing)}"
        if delta and len(station.wiring) < 2:
            yield station.id, f"must name 2 or 3 lines: there is no neutral in {description.site.system}"


def _overload(description: Description, row: Carried) -> Finding:
    circuit = next(circuit for circuit in description.circuits if circuit.id == row.circuit)
    parts = f"{row.base:g} {{0}} of building at its worst and {row.stations:g} {{0}} of silent stations"
    unit = "A" if row.line else "W"
    key = f"limit_a.{row.line}" if row.line else _cap_key(circuit)
    where = f"{row.line}: " if row.line else ""
    text = (
        f"{where}{parts.format(unit)} make {row.together:g} {unit}, above the limit of {row.limit:g} {unit}: "
        "lower fallback_a of stations below, or the worst base load"
    )
    return at_circuit(Severity.FAULT, description, circuit.id, key, text)


def _cap_key(circuit: Circuit) -> str:
    for i, window in enumerate(circuit.cap_windows):
        if window.cap_w == circuit.lowest_cap_w:
            return f"cap_windows[{i}].cap_w"
    return "cap_w"


def _refused(description: Description, error: InvalidInput) -> Finding:
    """What makes the installation impossible to steer, at the place that the file gives it."""
    head, _, key = error.field.partition(".")
    name, _, number = head.rstrip("]").partition("[")
    if name == "circuits" and number:
        circuit = description.circuits[int(number)]
        return at_circuit(
            Severity.FAULT, description, circuit.id, key.replace("base_a", "worst_base_a"), error.problem
        )
    if name == "stations" and number:
        planned = _nth(description.stations, int(number))
        return at_station(Severity.FAULT, description, planned.station.id, key, error.problem)
    path, place = description.of_circuit("", "")
    return Finding(Severity.FAULT, place, path, f"{error.field}: {error.problem}")


def _nth(stations: tuple[Planned, ...], number: int) -> Planned:
    """The station of the installation's wiring `number`: each has as many as EVSEs."""
    for planned in stations:
        if number < planned.evses:
            return planned
        number -= planned.evses
    raise IndexError(number)
