"""Share a site's supply among demands: the one decision that all strategies rest on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from csms.power.admission import admit, service_order
from csms.power.certificate import check_fairness, check_limits
from csms.power.currents import MissingLine, Network, Path
from csms.power.demand import Bound, BoundKind, Demand, Load
from csms.power.filling import AT_MAXIMUM, fill
from csms.power.installation import Installation, Line
from csms.power.rounding import down, hand_out, up


@dataclass(frozen=True, slots=True)
class Allocation:
    """`offers_a`: A per own conductor, for the admitted. `paused`: the others, in the order asked.

    `bounds`: why each offer is no higher, or why there is none. `line_a`: A per circuit and line
    with base load, reserved loads and offers.
    """

    offers_a: Mapping[str, float]
    paused: tuple[str, ...]
    bounds: Mapping[str, Bound]
    line_a: Mapping[str, Mapping[Line, float]]


def allocate(
    site: Installation | Network,
    demands: Sequence[Demand],
    *,
    base_a: Mapping[str, Mapping[Line, float]] | None = None,
    reserved: Iterable[Load] = (),
) -> Allocation:
    """Who may charge, and with how much.

    Every limit of every circuit on the way to the supply holds on every line. The offers are the
    weighted max-min fair ones, rounded down to the stations' steps. Equal inputs give equal results,
    in whichever order they come. Scarcity is no error: a demand that cannot get its minimum is paused,
    and its bound says which circuit and line had no room. KeyError: a demand names no circuit.

    `base_a`: measured base load of circuits, in place of the assumed one. `reserved`: what is taken
    already, e.g. by stations that cannot be reached. Pass a `Network` to save laying out the site anew.
    """
    network = site if isinstance(site, Network) else Network(site)
    heads = network.heads(base_a)
    taken = network.usage(reserved)
    bounds: dict[str, Bound] = {}
    able: list[Demand] = []
    paths: list[Path] = []
    for demand in demands:
        path = network.path(demand.circuit, demand.lines, demand.connection)
        if isinstance(path, MissingLine):
            bounds[demand.id] = Bound(BoundKind.LINE_MISSING, path.circuit, path.line)
        elif down(demand.max_a, demand.step_a) < up(demand.min_a, demand.step_a):
            bounds[demand.id] = Bound(BoundKind.MAXIMUM_TOO_LOW)
        else:
            able.append(demand)
            paths.append(path)

    order = service_order(able)
    usage = list(taken)
    admitted, refused = admit(heads, usage, order, paths, [up(d.min_a, d.step_a) for d in able])
    for i, row in refused.items():
        bounds[able[i].id] = Bound(BoundKind.WAITING, *network.row_name(row))

    running = [able[i] for i in admitted]
    ways = [paths[i] for i in admitted]
    amperes, stopped_by = _shares(heads, taken, usage, running, ways)
    offers: dict[str, float] = {}
    for demand, current, row in zip(running, amperes, stopped_by, strict=True):
        offers[demand.id] = current
        if row == AT_MAXIMUM:
            bounds[demand.id] = Bound(demand.maximum_is)
        else:
            circuit, line = network.row_name(row)
            kind = BoundKind.CAP if line is None else BoundKind.CIRCUIT_LINE
            bounds[demand.id] = Bound(kind, circuit, line)
    usage = check_limits(heads, taken, ways, amperes)
    return Allocation(
        offers_a={d.id: offers[d.id] for d in demands if d.id in offers},
        paused=tuple(d.id for d in demands if d.id not in offers),
        bounds={d.id: bounds[d.id] for d in demands},
        line_a=network.line_currents(usage, base_a),
    )


def _shares(
    heads: Sequence[float],
    taken: Sequence[complex],
    usage: Sequence[complex],
    running: Sequence[Demand],
    paths: Sequence[Path],
) -> tuple[list[float], list[int]]:
    """Amperes of the admitted, and what stopped each; the exact ones have passed the certificate."""
    minimums = [up(d.min_a, d.step_a) for d in running]
    maximums = [down(d.max_a, d.step_a) for d in running]
    weights = [d.weight for d in running]
    filling = fill(heads, usage, paths, minimums, maximums, weights)
    carried = check_limits(heads, taken, paths, filling.amperes)
    check_fairness(heads, carried, paths, filling.amperes, minimums, maximums, weights)
    steps = [d.step_a for d in running]
    if not any(steps):
        return filling.amperes, filling.stopped_by
    amperes = [down(current, step) for current, step in zip(filling.amperes, steps, strict=True)]
    carried = check_limits(heads, taken, paths, amperes)
    hand_out(heads, carried, paths, amperes, maximums, weights, steps)
    return amperes, filling.stopped_by
