"""Offers that stay as they are while they are as fair as can be, to within an ampere.

Fair shares move with every tenth of an ampere that a car leaves or the building takes. To follow each
would be chatter, and to raise by whole amperes only, each car for itself, leaves up to an ampere per car
unused: of eight cars on a full board eight amperes. So an offer that is less than `BAND_A` from its fair
share stays, also above it while that fits, and the room that then is left goes to the worst-off by a
whole `BAND_A`. What a limit needs is cut at once all the same: shares above the fair ones are given up
first, and the fair ones fit.
"""

from collections.abc import Mapping, Sequence

from csms.power.installation import Line
from csms.power.sharing.allocator import Allocation
from csms.power.sharing.currents import TOLERANCE, MissingLine, Network, Path
from csms.power.sharing.demand import BoundKind, Connection, Demand, Load

BAND_A = 1.0
_BY_A_LIMIT = frozenset({BoundKind.CIRCUIT_LINE, BoundKind.CAP})


def steady(
    allocation: Allocation,
    demands: Sequence[Demand],
    offered_a: Mapping[str, float],
    network: Network,
    base_a: Mapping[str, Mapping[Line, float]],
    reserved: Sequence[Load],
) -> dict[str, float]:
    """Targets in A by demand, in place of `allocation.offers_a`. `offered_a`: what each is offered now.

    Not where order counts more than evenness (a strategy that ranks), nor where lowering one car may
    break a limit (unbalance).
    """
    targets = dict(allocation.offers_a)
    strategy = network.installation.strategy
    if network.unbalances or (strategy is not None and strategy.rank is not None):
        return targets
    near = {
        d.id: offered
        for d in demands
        if (offered := offered_a.get(d.id, 0.0)) >= d.min_a > 0
        and d.id in targets
        and abs(offered - targets[d.id]) < BAND_A - TOLERANCE
        and offered <= d.max_a
    }
    if not near:
        return targets
    paths = _paths(allocation, demands, network)
    heads, usage = network.heads(base_a), network.usage(reserved)
    below = {id: min(near.get(id, target), target) for id, target in targets.items()}
    for id, amperes in below.items():
        _take(usage, paths[id], amperes)
    bound = {id for id in near if allocation.bounds[id].kind in _BY_A_LIMIT}
    # Who is nearest to its fair share keeps what it has above it first.
    for id in sorted(bound, key=lambda id: (near[id] - targets[id], id)):
        more = near[id] - below[id]
        if more > 0 and _fits(heads, usage, paths[id], more):
            _take(usage, paths[id], more)
            below[id] = near[id]
    of = {d.id: d for d in demands}
    for id in sorted(bound, key=lambda id: (below[id] / of[id].weight, id)):
        raised = below[id] + BAND_A
        wanted = below[id] < targets[id] - TOLERANCE and raised <= of[id].max_a + TOLERANCE
        if wanted and _fits(heads, usage, paths[id], BAND_A):
            _take(usage, paths[id], BAND_A)
            below[id] = raised
    return below


def _paths(allocation: Allocation, demands: Sequence[Demand], network: Network) -> dict[str, Path]:
    found: dict[str, Path] = {}
    for demand in demands:
        lines, connection = demand.lines, demand.connection
        if demand.id in allocation.lines:
            lines, connection = (allocation.lines[demand.id],), Connection.LINES
        path = network.path(demand.circuit, lines, connection)
        if demand.id in allocation.offers_a and not isinstance(path, MissingLine):
            found[demand.id] = path
    return found


def _take(usage: list[complex], path: Path, amperes: float) -> None:
    for row, value in path:
        usage[row] += amperes * value


def _fits(heads: Sequence[float], usage: Sequence[complex], path: Path, more_a: float) -> bool:
    return all(
        abs(usage[row] + more_a * value) <= heads[row] + TOLERANCE * (1.0 + abs(heads[row]))
        for row, value in path
    )
