"""Share a site's supply among demands: the one decision that all strategies rest on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from csms.power.installation import Installation, Line
from csms.power.sharing.admission import admit, service_order
from csms.power.sharing.cars import Cars
from csms.power.sharing.certificate import check_fairness, check_limits, used
from csms.power.sharing.currents import MissingLine, Network, Path, watts_per_ampere
from csms.power.sharing.demand import Bound, BoundKind, Connection, Demand, Load, usual_connection
from csms.power.sharing.filling import AT_MAXIMUM, fill_ranked
from csms.power.sharing.line_choice import LineChoice
from csms.power.sharing.rounding import down, hand_out, up
from csms.power.sharing.strategies import WEIGHTED
from csms.power.sharing.strategy import Fairness, Strategy
from csms.power.sharing.unbalance import UNBALANCED, Evenness, check_evenness, evenness, excess, share_evenly
from csms.units import NOMINAL_VOLTAGE_V


@dataclass(frozen=True, slots=True)
class Allocation:
    """`offers_a`: A per own conductor, for the admitted. `paused`: the others, in the order asked.

    `bounds`: why each offer is no higher, or why there is none. `line_a`: A per circuit and line
    with base load, reserved loads and offers. `lines`: the line chosen for each car that has `choices`.
    """

    offers_a: Mapping[str, float]
    paused: tuple[str, ...]
    bounds: Mapping[str, Bound]
    line_a: Mapping[str, Mapping[Line, float]]
    lines: Mapping[str, Line] = field(default_factory=dict)


def allocate(
    site: Installation | Network,
    demands: Sequence[Demand],
    *,
    base_a: Mapping[str, Mapping[Line, float]] | None = None,
    reserved: Iterable[Load] = (),
    strategy: Strategy | None = None,
    fairness: Fairness | None = None,
) -> Allocation:
    """Who may charge, and with how much.

    Every limit of every circuit on the way to the supply holds on every line. The offers are the
    weighted max-min fair ones within each rank of the strategy, rounded down to the stations' steps.
    Equal inputs give equal results, in whichever order they come. Scarcity is no error: a demand that
    cannot get its minimum is paused, and its bound says which circuit and line had no room. KeyError: a
    demand names no circuit.

    The certificate of fairness is asserted after every run of every strategy, before rounding, except
    where a limit on unbalance changes the shares (`max_min` then; the limits are asserted there too).

    `base_a`: measured base load of circuits, in place of the assumed one. `reserved`: what is taken
    already, e.g. by stations that cannot be reached. `strategy`, `fairness`: in place of the site's. Pass a
    `Network` to save laying out the site anew, and to have the caps of the hour (`Network.at`).
    """
    network = site if isinstance(site, Network) else Network(site)
    run = _Run(network, strategy or network.installation.strategy or WEIGHTED, fairness)
    run.heads = network.heads(base_a)
    run.taken = network.usage(reserved)
    run.take(demands)
    run.choose_lines()
    usage = run.share()
    return Allocation(
        offers_a={d.id: run.offers[d.id] for d in demands if d.id in run.offers},
        paused=tuple(d.id for d in demands if d.id not in run.offers),
        bounds={d.id: run.bounds[d.id] for d in demands},
        line_a=network.line_currents(usage, base_a),
        lines=run.lines,
    )


class _Run:
    """One allocation. `able`: the demands that could charge, in the order of service, as the strategy sees
    them; `cars` are the same."""

    heads: Sequence[float]
    taken: Sequence[complex]

    def __init__(self, network: Network, strategy: Strategy, fairness: Fairness | None) -> None:
        self.network = network
        self.strategy = strategy
        self.by_power = (fairness or network.installation.fairness) is Fairness.KILOWATTS
        self.able: list[Demand] = []
        self.cars = Cars([], [], [], [], [])
        self.bounds: dict[str, Bound] = {}
        self.offers: dict[str, float] = {}
        self.lines: dict[str, Line] = {}

    def take(self, demands: Sequence[Demand]) -> None:
        """Lay out what can be served at all, in the order of service."""
        sees = self.strategy.sees
        if sees is not None:
            demands = [sees(demand) for demand in demands]
        paths: list[Path] = []
        minimums: list[float] = []
        maximums: list[float] = []
        weights: list[float] = []
        steps: list[float] = []
        find = self.network.path
        ranges: dict[tuple[float, float, float], tuple[float, float]] = {}
        for i in service_order(demands):
            demand = demands[i]
            step = demand.step_a
            asked = (demand.min_a, demand.max_a, step)
            if asked not in ranges:
                ranges[asked] = up(demand.min_a, step), down(demand.max_a, step)
            least, most = ranges[asked]
            if most < least:
                planned = demand.maximum_is is BoundKind.PLAN
                self.bounds[demand.id] = Bound(BoundKind.PLAN if planned else BoundKind.MAXIMUM_TOO_LOW)
                continue
            path = find(demand.circuit, demand.lines, demand.connection)
            if isinstance(path, MissingLine):
                self.bounds[demand.id] = Bound(BoundKind.LINE_MISSING, path.circuit, path.line)
                continue
            self.able.append(demand)
            paths.append(path)
            minimums.append(least)
            maximums.append(most)
            weights.append(demand.weight if not self.by_power else demand.weight / self._lines_worth(demand))
            steps.append(step)
        self.cars = Cars(paths, minimums, maximums, weights, steps, self._ranks())

    def _lines_worth(self, demand: Demand) -> float:
        """Power per ampere, in that of a single-phase car: 3 for three lines, sqrt 3 for a balanced delta."""
        connection = demand.connection or usual_connection(self.network.installation.system, demand.lines)
        return watts_per_ampere(connection, demand.lines) / NOMINAL_VOLTAGE_V

    def _ranks(self) -> list[int] | None:
        rank = self.strategy.rank
        if rank is None:
            return None
        of_each = [rank(demand) for demand in self.able]
        place = {value: i for i, value in enumerate(sorted(set(of_each)))}
        return [place[value] for value in of_each]

    def choose_lines(self) -> None:
        """Put the single-phase cars that have a choice on the lines that serve all best."""
        if not any(demand.choices for demand in self.able):
            return
        lines: list[list[Line]] = []
        options: list[list[Path]] = []
        for demand, path in zip(self.able, self.cars.paths, strict=True):
            own: list[Line] = []
            ways: list[Path] = []
            for line in demand.choices:
                way = self.network.path(demand.circuit, (line,), Connection.LINES)
                if not isinstance(way, MissingLine):
                    own.append(line)
                    ways.append(way)
            lines.append(own)
            options.append(ways or [path])
        cars = self.cars
        choice = LineChoice(
            self.heads,
            self.taken,
            range(len(cars)),
            options,
            cars.minimums,
            cars.maximums,
            cars.weights,
            cars.ranks,
        )
        chosen = choice.best()
        for demand, own, k in zip(self.able, lines, chosen, strict=True):
            if own:
                self.lines[demand.id] = own[k]
        paths = [ways[k] for ways, k in zip(options, chosen, strict=True)]
        self.cars = Cars(paths, cars.minimums, cars.maximums, cars.weights, cars.steps, cars.ranks)

    def share(self) -> list[complex]:
        """Offers and bounds; returns what every row then carries."""
        heads, taken, cars = self.heads, self.taken, self.cars
        usage = list(taken)
        running, refused = admit(heads, usage, range(len(cars)), cars.paths, cars.minimums)
        chosen = cars if len(running) == len(cars) else cars.of(running)
        filled = fill_ranked(
            heads, usage, chosen.paths, chosen.minimums, chosen.maximums, chosen.weights, chosen.ranks
        )
        amperes, stopped_by = filled.amperes, filled.stopped_by
        even = evenness(self.network, taken)
        carried = check_limits(heads, taken, chosen.paths, amperes)
        check_fairness(
            heads,
            carried,
            chosen.paths,
            amperes,
            chosen.minimums,
            chosen.maximums,
            chosen.weights,
            chosen.ranks,
        )
        if any(chosen.steps):
            amperes = [down(current, step) for current, step in zip(amperes, chosen.steps, strict=True)]
            carried = used(len(heads), taken, chosen.paths, amperes)
            hand_out(
                heads,
                carried,
                chosen.paths,
                amperes,
                chosen.maximums,
                chosen.weights,
                chosen.steps,
                chosen.ranks,
            )
        if excess(even, carried) > 0:
            running, amperes, stopped_by = share_evenly(heads, taken, cars, even, running)
            chosen = cars.of(running)
        by_row: dict[int, Bound] = {}
        for i, current, row in zip(running, amperes, stopped_by, strict=True):
            demand = self.able[i]
            self.offers[demand.id] = current
            if row == AT_MAXIMUM:
                self.bounds[demand.id] = Bound(demand.maximum_is)
                continue
            if row not in by_row:
                by_row[row] = self._bound(row)
            self.bounds[demand.id] = by_row[row]
        self._explain_the_others(refused, even)
        carried = check_limits(heads, taken, chosen.paths, amperes)
        check_evenness(even, carried)
        return carried

    def _bound(self, row: int) -> Bound:
        if row <= UNBALANCED:
            return Bound(BoundKind.UNBALANCE, *self.network.row_name(UNBALANCED - row))
        circuit, line = self.network.row_name(row)
        return Bound(BoundKind.CAP if line is None else BoundKind.CIRCUIT_LINE, circuit, line)

    def _explain_the_others(self, refused: Mapping[int, int], even: Sequence[Evenness]) -> None:
        for i, demand in enumerate(self.able):
            if demand.id in self.offers:
                continue
            if i in refused:
                self.bounds[demand.id] = Bound(BoundKind.WAITING, *self.network.row_name(refused[i]))
                continue
            own = {row for row, _ in self.cars.paths[i]}
            row = next(row for limit in even for row in limit.rows if row in own)
            self.bounds[demand.id] = Bound(BoundKind.UNBALANCE, *self.network.row_name(row))
