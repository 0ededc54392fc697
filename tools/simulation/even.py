"""What a sharing that is even, exact and at once would have given, without knowing who leaves when.

The same cars, limits and base load; no delays, no messages, no steps of the offers, no margins, no room
kept back; whoever fits with 6 A charges, those with least energy first. The difference to the best
possible (`clairvoyant`) is the price of not knowing beforehand, the difference to what was delivered that
of the real world: messages, pilots that cannot say less than 6 A, room that must last before it is given.
"""

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Final

from csms.power.installation import LINES, Line
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import Network
from csms.power.sharing.demand import Demand
from tools.simulation.clairvoyant import V
from tools.simulation.description import Description
from tools.simulation.load import Change, changes
from tools.simulation.places import Stay
from tools.simulation.server import installation
from tools.simulator.car import LOWEST_PILOT_A, CarModel

STEP_S: Final = 300.0


def even_wh(description: Description, stays: Sequence[Stay], *, step_s: float = STEP_S) -> dict[str, float]:
    """Energy in Wh by transaction; what is allotted holds for a step."""
    network = Network(installation(description))
    loads = [(load.circuit, changes(description, load)) for load in description.loads]
    given = dict.fromkeys((stay.transaction for stay in stays), 0.0)
    for n in range(math.ceil((description.ends_s - description.starts_s) / step_s)):
        now_s = description.starts_s + n * step_s
        here = {
            stay.transaction: stay
            for stay in stays
            if stay.began_s <= now_s < stay.ends_s and given[stay.transaction] < stay.need_wh - 1e-6
        }
        if not here:
            continue
        demands = [_demand(description, stay, given[name]) for name, stay in here.items()]
        offers_a = allocate(network, demands, base_a=_base(description, loads, now_s)).offers_a
        for name, amperes in offers_a.items():
            stay = here[name]
            hours = min(step_s, stay.ends_s - now_s) / 3600
            energy_wh = amperes * _watts_per_a(description, stay.arrival.model) * hours
            given[name] = min(stay.need_wh, given[name] + energy_wh)
    return given


def _base(
    description: Description, loads: Sequence[tuple[str, Sequence[Change]]], now_s: float
) -> dict[str, Mapping[Line, float]]:
    """What the building draws; without a load a circuit has none, whatever is assumed at worst."""
    sums: dict[str, list[complex]] = {circuit.id: [0.0, 0.0, 0.0] for circuit in description.circuits}
    for circuit, series in loads:
        at = max(0, bisect_right(series, now_s, key=lambda change: change.at_s) - 1)
        sums[circuit] = [a + b for a, b in zip(sums[circuit], series[at].line_a, strict=True)]
    return {c: {line: abs(a) for line, a in zip(LINES, three, strict=True)} for c, three in sums.items()}


def _demand(description: Description, stay: Stay, given_wh: float) -> Demand:
    model, station = stay.arrival.model, stay.place.station
    lines = tuple(LINES[line] for line in station.rotation)
    if not description.system.is_delta:
        lines = lines[: model.lines]
    elif model.lines < 3:
        lines = lines[:2]
    takes_a = min(station.max_current_a, model.max_current_a * _taper(stay, given_wh))
    return Demand(
        id=stay.transaction,
        circuit=station.circuit,
        lines=lines,
        min_a=min(LOWEST_PILOT_A, takes_a),
        max_a=takes_a,
        priority=stay.arrival.priority,
        energy_served_wh=given_wh,
    )


def _taper(stay: Stay, given_wh: float) -> float:
    """The share of its highest current that the car's battery takes."""
    model = stay.arrival.model
    soc = stay.arrival.soc + given_wh * model.efficiency / model.battery_wh
    if soc <= model.taper_from or model.taper_from >= 1:
        return 1.0
    share = 1 - (1 - model.taper_floor) * (soc - model.taper_from) / (1 - model.taper_from)
    return max(model.taper_floor, share)


def _watts_per_a(description: Description, model: CarModel) -> float:
    if not description.system.is_delta:
        return V * model.lines
    return V * (math.sqrt(3) if model.lines == 3 else 1.0)
