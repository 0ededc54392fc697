"""From the records of a site to the installation that is steered. Pure."""

from collections.abc import Iterable, Mapping
from zoneinfo import ZoneInfo

from csms.power.caps import CapWindow
from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring
from csms.power.sharing.strategies import strategy_named
from csms.power.sharing.strategy import Fairness
from csms.power.steering.base_load import BuildingMeter, Counts
from csms.sites import model as sites
from csms.stations import record


def installation(
    site: sites.Site,
    circuits: Iterable[sites.Circuit],
    stations: Iterable[record.Station],
    evses: Iterable[record.Evse],
    *,
    delta_margin_percent: float,
) -> Installation:
    """The installation of `site`. Stations without a circuit are left out: nothing feeds them.

    Raises InvalidInput when the records do not make a tree that can be steered.
    """
    numbers: dict[str, list[int]] = {}
    for evse in evses:
        if evse.number > 0:
            numbers.setdefault(evse.station_id, []).append(evse.number)
    system = System(site.system.value)
    return Installation(
        system=system,
        circuits=tuple(_circuit(circuit) for circuit in circuits),
        wirings=tuple(
            _wiring(station, station.circuit_id, number)
            for station in stations
            if station.circuit_id is not None
            for number in numbers.get(station.id, [1])
        ),
        delta_margin=delta_margin_percent / 100 if system.is_delta else 0.0,
        fairness=Fairness(site.fairness.value),
        strategy=strategy_named(site.strategy.value),
        zone=ZoneInfo(site.time_zone),
    )


def meters(circuits: Iterable[sites.Circuit], *, stale_at_least_s: float) -> dict[str, BuildingMeter]:
    """The building meters, by the circuit that they are at."""
    return {
        circuit.id: BuildingMeter(
            Counts(circuit.meter.counts.value), circuit.meter.period_s, stale_at_least_s
        )
        for circuit in circuits
        if circuit.meter is not None
    }


def _circuit(circuit: sites.Circuit) -> Circuit:
    limit_a = _lines(circuit.limit_a)
    return Circuit(
        id=circuit.id,
        fed_from=circuit.fed_from,
        limit_a=limit_a,
        device_a=circuit.device_a,
        cap_w=circuit.cap_w,
        cap_windows=tuple(CapWindow(w.start, w.end, w.cap_w) for w in circuit.cap_windows),
        unbalance_a=circuit.unbalance_a,
        base_a={
            line: base for line, base in zip(LINES, circuit.worst_base_a, strict=True) if line in limit_a
        },
    )


def _lines(amps: sites.LineAmps) -> Mapping[Line, float]:
    """A limit of 0 in a record means that the line is not there."""
    return {line: value for line, value in zip(LINES, amps, strict=True) if value > 0}


def _wiring(station: record.Station, circuit_id: str, number: int) -> Wiring:
    return Wiring(
        evse=Evse(station.id, number),
        circuit=circuit_id,
        rotation=tuple(Line(line) for line in station.wiring),
        max_current_a=station.max_current_a,
        step_a=station.step_a,
        fallback_a=station.fallback_a,
        can_choose_line=station.can_choose_line,
        keeps_profiles=station.keeps_profiles,
        times_offline=station.times_offline,
    )
