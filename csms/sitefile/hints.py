"""What an electrician should look at, and what people should know. None of it makes a site unsafe.

A rule takes the description and gives findings; `RULES` is the list of them.
"""

from collections import Counter
from collections.abc import Callable, Iterator

from csms.sitefile.description import Description, Planned
from csms.sitefile.findings import Finding, Severity, at_circuit, at_station
from csms.sitefile.places import Place, nearest
from csms.sites.model import LINES, Circuit, MeterCounts, System, path_to_root
from csms.units import LOWEST_CURRENT_A

SELECTIVE = 1.6
"""Ratio of ratings above which one gG fuse behind another blows alone (handbook figure for IEC 60269)."""
FEW = 3
"""So many single-phase cars on one line are worth a word."""

Rule = Callable[[Description], Iterator[Finding]]


def hints(description: Description) -> tuple[Finding, ...]:
    """All hints and notes."""
    return tuple(finding for rule in RULES for finding in rule(description))


def order_of_limits(description: Description) -> Iterator[Finding]:
    """A limit above the one that feeds it is never reached."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    for circuit in description.circuits:
        above = by_id.get(circuit.fed_from or "")
        if above is None:
            continue
        over = [
            f"{line} {limit:g} A of {most:g} A"
            for line, limit, most in zip(LINES, circuit.limit_a, above.limit_a, strict=True)
            if limit > most > 0
        ]
        if over:
            text = f"is above that of {above.id!r}, which feeds it ({', '.join(over)}): {above.id!r} decides"
            yield at_circuit(Severity.HINT, description, circuit.id, "limit_a", text)


def selectivity(description: Description) -> Iterator[Finding]:
    """Of two devices in a row only the nearer should trip."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    for circuit in description.circuits:
        above = by_id.get(circuit.fed_from or "")
        if above is None or above.device_a is None or circuit.device_a is None:
            continue
        if above.device_a < SELECTIVE * circuit.device_a:
            ratio = above.device_a / circuit.device_a if circuit.device_a else 0.0
            text = (
                f"{above.device_a:g} A before {circuit.device_a:g} A is {ratio:.2f} : 1. Two gG fuses are "
                f"selective from {SELECTIVE:g} : 1 up, other devices by their makers' tables: both may trip. "
                "The electrician decides"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "device_a", text)


def unknown_devices(description: Description) -> Iterator[Finding]:
    """Where no rating is given, nobody has compared the limit with it."""
    unrated = [circuit.id for circuit in description.circuits if circuit.device_a is None]
    if unrated:
        text = f"no device_a, so the limit is not compared with a fuse or breaker: {', '.join(unrated)}"
        yield at_circuit(Severity.NOTE, description, unrated[0], "", text)


def unreachable(description: Description) -> Iterator[Finding]:
    """Circuits that feed nothing, and stations where no car can ever charge."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    used = {
        circuit.id
        for planned in description.stations
        for circuit in path_to_root(by_id, planned.station.circuit_id or "")
    }
    for circuit in description.circuits:
        if circuit.id not in used:
            yield at_circuit(Severity.HINT, description, circuit.id, "", "feeds no station")
    for planned in description.stations:
        station = planned.station
        for circuit in path_to_root(by_id, station.circuit_id or ""):
            narrow = [
                line for line in station.wiring if 0 < circuit.limit_a[LINES.index(line)] < LOWEST_CURRENT_A
            ]
            if narrow:
                text = (
                    f"no car can charge here on {', '.join(narrow)}: circuit {circuit.id!r} allows less than "
                    f"{LOWEST_CURRENT_A:g} A (IEC 61851-1)"
                )
                yield at_station(Severity.HINT, description, station.id, "circuit", text)
                break


def waiting_cars(description: Description) -> Iterator[Finding]:
    """Fuses that cannot give the lowest current to all below them at once."""
    for circuit, below in _below(description):
        worst: tuple[int, int, str] | None = None
        for i, line in enumerate(LINES):
            bays = sum(planned.evses for planned in below if line in planned.station.wiring)
            at_once = int(circuit.limit_a[i] / LOWEST_CURRENT_A + 1e-9)
            if circuit.limit_a[i] and bays > at_once and (worst is None or at_once < worst[1]):
                worst = (bays, at_once, line)
        if worst is not None:
            text = (
                f"{worst[0]} bays, but {LOWEST_CURRENT_A:g} A on {worst[2]} for {worst[1]} at once and with "
                "no other load: cars will wait for their turn"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "limit_a", text)


def rotation(description: Description) -> Iterator[Finding]:
    """Single-phase cars load the line that a station's L1 hangs on."""
    for circuit in description.circuits:
        here = [p for p in description.stations if p.station.circuit_id == circuit.id]
        first = Counter(p.station.wiring[0] for p in here if not p.station.can_choose_line)
        lines = sum(limit > 0 for limit in circuit.limit_a)
        if lines > 1 and len(first) == 1 and sum(first.values()) >= FEW:
            line, number = first.most_common(1)[0]
            text = (
                f"L1 of all {number} stations hangs on {line}: single-phase cars would all load {line}. "
                "Rotate the wiring from bay to bay, and write it here"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "", text)


def forgetful(description: Description) -> Iterator[Finding]:
    """Stations that keep no profiles."""
    for planned in description.stations:
        if not planned.station.keeps_profiles:
            text = (
                f"keeps no profiles: counts with its full {planned.station.max_current_a:g} A whenever it "
                "does not hear us, whatever fallback_a says"
            )
            yield at_station(Severity.HINT, description, planned.station.id, "keeps_profiles", text)


def silent_at_nothing(description: Description) -> Iterator[Finding]:
    """Who charges nothing while we are away."""
    nothing = [p for p in description.stations if p.station.keeps_profiles and p.station.fallback_a == 0]
    if nothing:
        text = (
            f"{len(nothing)} of {len(description.stations)} stations fall back to 0 A: while they do not "
            "hear us, no car charges there"
        )
        yield Finding(Severity.NOTE, _top(description, "stations"), "stations", text)


def meters(description: Description) -> Iterator[Finding]:
    """Base loads that nothing measures, and meters that tell too little."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    no_neutral = _is_delta(description)
    for circuit in description.circuits:
        measured = any(each.meter is not None for each in path_to_root(by_id, circuit.id))
        if any(circuit.worst_base_a) and not measured:
            text = (
                "is never measured: its worst case is kept free day and night. A meter here lets cars use "
                "the rest"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "worst_base_a", text)
        if circuit.meter is not None and not any(circuit.worst_base_a):
            text = (
                "there is a meter, but worst_base_a is 0 A: when the meter is silent nothing is kept free "
                "for the building"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "meter", text)
        if circuit.meter is not None and circuit.meter.counts is MeterCounts.TOTAL and no_neutral:
            text = (
                "counts the total with the cars: without a neutral the building's part cannot be told from "
                "it, so the worst case stands. Measure the building alone (counts: base)"
            )
            yield at_circuit(Severity.HINT, description, circuit.id, "meter.counts", text)
    if not any(circuit.meter for circuit in description.circuits):
        text = "no circuit has a meter: the worst base load is assumed always"
        yield Finding(Severity.HINT, _top(description, "circuits"), "circuits", text)


def delta(description: Description) -> Iterator[Finding]:
    """What is different without a neutral."""
    if _is_delta(description):
        text = (
            f"{description.site.system} has no usable neutral: cars connect between two lines and their "
            "currents add as phasors, live with the margin of the settings. In this check they are added as "
            "they are"
        )
        yield Finding(Severity.NOTE, _top(description, "site.system"), "site.system", text)


RULES: tuple[Rule, ...] = (
    order_of_limits,
    selectivity,
    unknown_devices,
    unreachable,
    waiting_cars,
    rotation,
    forgetful,
    silent_at_nothing,
    meters,
    delta,
)


def _below(description: Description) -> Iterator[tuple[Circuit, list[Planned]]]:
    """Each circuit with the stations that draw through it."""
    by_id = {circuit.id: circuit for circuit in description.circuits}
    paths = [(p, path_to_root(by_id, p.station.circuit_id or "")) for p in description.stations]
    for circuit in description.circuits:
        yield circuit, [planned for planned, path in paths if circuit in path]


def _is_delta(description: Description) -> bool:
    return description.site.system in (System.IT_230, System.TT_230)


def _top(description: Description, path: str) -> Place:
    return nearest(description.places, path)
