"""A limit on how unequally the cars may load the lines of a circuit (star only).

On every line the cars may take at most so many amperes more than on the least loaded line of the same
circuit; the building's own load is not counted. Pausing or lowering one car can break this, so the shares
come from `max_min`, and admission asks whether a set of cars can run at all. Limits of safety win: what
cars out of reach take counts, but where they alone are too unequal already, the limit is what they make it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import combinations, permutations

from csms.errors import OurFault
from csms.power.installation import LINES
from csms.power.sharing.cars import Cars
from csms.power.sharing.certificate import SLACK, check_limits, used
from csms.power.sharing.currents import ROWS_PER_CIRCUIT, TOLERANCE, Network, Path
from csms.power.sharing.max_min import MaxMin
from csms.power.sharing.rounding import down

UNBALANCED = -2
"""Shares say `UNBALANCED - row` for a car that the line `row` lets have no more than the least loaded one."""


@dataclass(frozen=True, slots=True)
class Evenness:
    """The `rows` of one circuit's lines may differ by `most_a`."""

    rows: tuple[int, ...]
    most_a: float

    def excess(self, usage: Sequence[complex]) -> float:
        """A that the highest is too far above the lowest; 0 when it is not."""
        loads = [usage[row].real for row in self.rows]
        return max(0.0, max(loads) - min(loads) - self.most_a)


def evenness(network: Network, taken: Sequence[complex]) -> tuple[Evenness, ...]:
    """What must be kept above what is `taken` already."""
    found = []
    for i, most_a in network.unbalances:
        lines = network.installation.circuits[i].limit_a
        rows = tuple(i * ROWS_PER_CIRCUIT + k for k, line in enumerate(LINES) if line in lines)
        loads = [taken[row].real for row in rows]
        found.append(Evenness(rows, max(most_a, max(loads) - min(loads))))
    return tuple(found)


def excess(limits: Iterable[Evenness], usage: Sequence[complex]) -> float:
    """A by which all together are broken."""
    return sum(limit.excess(usage) for limit in limits)


def check_evenness(limits: Iterable[Evenness], usage: Sequence[complex]) -> None:
    """Refuse (OurFault) what loads the lines too unequally."""
    for limit in limits:
        if limit.excess(usage) > SLACK * (1.0 + limit.most_a):
            raise OurFault(f"allocation is {limit.excess(usage):.6f} A too unequal on rows {limit.rows}")


def _programme(
    heads: Sequence[float], taken: Sequence[complex], cars: Cars, limits: Sequence[Evenness]
) -> MaxMin:
    pairs = [(high, low, e.most_a) for e in limits for high, low in permutations(e.rows, 2)]
    return MaxMin(heads, taken, cars, pairs)


def share_evenly(
    heads: Sequence[float],
    taken: Sequence[complex],
    cars: Cars,
    limits: Sequence[Evenness],
    admitted: Sequence[int],
) -> tuple[list[int], list[float], list[int]]:
    """Who of `cars` (in the order of service) may charge, with how much, and what stopped each.

    `admitted`: by the circuits' limits alone; nobody else could be added to them. The shares have been
    rounded down to the steps of the stations.
    """
    programme = _programme(heads, taken, cars, limits)
    able = list(admitted if programme.fits(admitted) else range(len(cars)))
    while True:
        running = _admit(programme, able, cars, limits, heads, taken)
        exact = programme.shares(running)
        chosen = cars.of(running)
        amperes = [exact[i] for i in running]
        usage = check_limits(heads, taken, chosen.paths, amperes)
        check_evenness(limits, usage)
        stopped_by = [
            _stopped(heads, usage, limits, path, highest - current)
            for path, highest, current in zip(chosen.paths, chosen.maximums, amperes, strict=True)
        ]
        rounded = round_evenly(heads, taken, chosen, limits, amperes)
        if isinstance(rounded, list):
            return running, rounded, stopped_by
        able.remove(running[rounded])


def _admit(
    programme: MaxMin,
    able: Sequence[int],
    cars: Cars,
    limits: Sequence[Evenness],
    heads: Sequence[float],
    taken: Sequence[complex],
) -> list[int]:
    """In the order of service everybody with whom all admitted before can still run.

    Who makes the lines too unequal alone is tried again when others have come, and together with one
    or two cars on other lines.
    """
    if programme.fits(able):
        return list(able)
    outlook = _Outlook(heads, taken, cars, limits)
    admitted: list[int] = []
    waiting = list(able)
    before = -1
    while waiting and len(admitted) > before:
        before = len(admitted)
        # Whom the minimums of the others leave no room need not be asked again: room only shrinks.
        waiting = [i for i in waiting if outlook.has_room(i)]
        left, hopeless = [], set[tuple[object, ...]]()
        for i in waiting:
            alike = (outlook.kind(i), cars.minimums[i], cars.maximums[i])
            if alike in hopeless or not outlook.has_room(i):
                left.append(i)
            elif not outlook.may_fit(i):
                hopeless.add(alike)  # nor can any like it, until somebody else has come
                left.append(i)
            elif programme.fits([*admitted, i]):
                admitted.append(i)
                outlook.admit(i)
                hopeless.clear()
            else:
                left.append(i)
        waiting = left
        if len(admitted) == before:
            together = _that_fit_together(programme, outlook, admitted, waiting)
            admitted += together
            for i in together:
                outlook.admit(i)
            waiting = [i for i in waiting if i not in together]
    return sorted(admitted)


class _Outlook:
    """What can be seen without the solver of the admitted: on each row the least that they take, and by how
    much at least one line must exceed another (cars on both lines change nothing between them).

    Whom this refuses cannot run; whom it lets through may all the same be refused by the solver.
    """

    def __init__(
        self, heads: Sequence[float], taken: Sequence[complex], cars: Cars, limits: Sequence[Evenness]
    ) -> None:
        self._cars = cars
        self._most = [head + TOLERANCE * (1.0 + abs(head)) for head in heads]
        self._least = [carried.real for carried in taken]
        pairs = [(high, low, limit.most_a) for limit in limits for high, low in permutations(limit.rows, 2)]
        self._pairs = [(h, low, most_a + SLACK * (1.0 + most_a)) for h, low, most_a in pairs]
        self._more = [taken[high].real for high, _, _ in pairs]  # at least, on the higher line alone
        self._room = [taken[low].real for _, low, _ in pairs]  # at most, on the lower line alone
        evened = {row for limit in limits for row in limit.rows}
        self._kinds = [tuple(row for row, _ in path if row in evened) for path in cars.paths]

    def kind(self, i: int) -> tuple[int, ...]:
        """The evened rows that the car loads."""
        return self._kinds[i]

    def admit(self, i: int, sign: int = 1) -> None:
        """Count the car in, or out with `sign` -1."""
        least, most = sign * self._cars.minimums[i], sign * self._cars.maximums[i]
        for row, value in self._cars.paths[i]:
            self._least[row] += least * value.real
        kind = self._kinds[i]
        for k, (high, low, _) in enumerate(self._pairs):
            on_high, on_low = high in kind, low in kind
            if on_high and not on_low:
                self._more[k] += least
            elif on_low and not on_high:
                self._room[k] += most

    def has_room(self, i: int) -> bool:
        """Whether its minimum fits above those of the admitted."""
        amperes, least, most = self._cars.minimums[i], self._least, self._most
        return all(least[row] + amperes * value.real <= most[row] for row, value in self._cars.paths[i])

    def may_fit(self, *cars: int) -> bool:
        """Whether all of them may run with the admitted."""
        counted: list[int] = []
        try:
            for i in cars:
                if not self.has_room(i):
                    return False
                self.admit(i)
                counted.append(i)
            return all(
                more - min(room, self._most[low]) <= most_a
                for (_, low, most_a), more, room in zip(self._pairs, self._more, self._room, strict=True)
            )
        finally:
            for i in counted:
                self.admit(i, -1)


def _that_fit_together(
    programme: MaxMin, outlook: _Outlook, admitted: Sequence[int], waiting: Sequence[int]
) -> tuple[int, ...]:
    """Two or three of the waiting that can run together; of each kind only the first served is tried."""
    first: dict[tuple[int, ...], int] = {}
    for i in waiting:
        first.setdefault(outlook.kind(i), i)
    for size in (2, 3):
        for together in combinations(sorted(first.values()), size):
            if outlook.may_fit(*together) and programme.fits([*admitted, *together]):
                return together
    return ()


def _stopped(
    heads: Sequence[float],
    usage: Sequence[complex],
    limits: Sequence[Evenness],
    path: Path,
    below_maximum: float,
) -> int:
    """AT_MAXIMUM, the full row, or UNBALANCED - row."""
    if below_maximum <= SLACK:
        return -1
    for row, _ in path:
        if usage[row].real >= heads[row] - SLACK * (1.0 + abs(heads[row])):
            return row
    own = {row for row, _ in path}
    for limit in limits:
        lowest = min(usage[row].real for row in limit.rows)
        for row in limit.rows:
            if row in own and usage[row].real >= lowest + limit.most_a - SLACK * (1.0 + limit.most_a):
                return UNBALANCED - row
    raise OurFault("allocation leaves a car lower for no reason")


class _Rounder:
    """Amperes on their steps, changed one step at a time while all limits are looked at."""

    def __init__(
        self,
        heads: Sequence[float],
        taken: Sequence[complex],
        cars: Cars,
        limits: Sequence[Evenness],
        exact: Sequence[float],
    ) -> None:
        self.heads, self.cars, self.limits = heads, cars, limits
        self.amperes = [down(a, step) for a, step in zip(exact, cars.steps, strict=True)]
        self.usage = used(len(heads), taken, cars.paths, self.amperes)

    def level(self, i: int) -> float:
        return self.amperes[i] / self.cars.weights[i]

    def move(self, i: int, step: float) -> None:
        self.amperes[i] = round(self.amperes[i] + step, 6)
        for row, value in self.cars.paths[i]:
            self.usage[row] += step * value

    def excess_with(self, i: int, step: float) -> float | None:
        """The excess after a step; None: the car or a row does not allow it."""
        higher = self.amperes[i] + step
        cars, heads = self.cars, self.heads
        if not step or not cars.minimums[i] - TOLERANCE <= higher <= cars.maximums[i] + TOLERANCE:
            return None
        for row, value in cars.paths[i]:
            load = self.usage[row].real + step * value.real
            if step > 0 and load > heads[row] + TOLERANCE * (1.0 + abs(heads[row])):
                return None
        for row, value in cars.paths[i]:
            self.usage[row] += step * value
        found = excess(self.limits, self.usage)
        for row, value in cars.paths[i]:
            self.usage[row] -= step * value
        return found

    def repair(self) -> bool:
        """Take back what rounding made unequal, by the step that helps most; raise rather than lower."""
        while (now := excess(self.limits, self.usage)) > ENOUGH_A:
            best = min(
                (
                    (after, step < 0, self.level(i) * (1 if step > 0 else -1), i, step)
                    for i, own in enumerate(self.cars.steps)
                    for step in (own, -own)
                    if (after := self.excess_with(i, step)) is not None and after < now - ENOUGH_A
                ),
                default=None,
            )
            if best is None:
                return False
            self.move(best[3], best[4])
        return True

    def hand_out(self) -> None:
        """What is left to the worst-off that can take it; who could not is asked again after each step."""
        ranks = self.cars.ranks or [0] * len(self.cars)
        queue = [(ranks[i], self.level(i), i) for i in range(len(self.cars))]
        heapify(queue)
        stuck = []
        while queue:
            entry = heappop(queue)
            i, step = entry[2], self.cars.steps[entry[2]]
            after = self.excess_with(i, step)
            if after is None or after > ENOUGH_A:
                stuck.append(entry)
                continue
            self.move(i, step)
            for again in [*stuck, (ranks[i], self.level(i), i)]:
                heappush(queue, again)
            stuck = []


ENOUGH_A = 1e-7


def round_evenly(
    heads: Sequence[float],
    taken: Sequence[complex],
    cars: Cars,
    limits: Sequence[Evenness],
    exact: Sequence[float],
) -> list[float] | int:
    """Amperes on their steps that keep every limit, or the car to leave out because none were found."""
    if not any(cars.steps):
        return list(exact)
    run = _Rounder(heads, taken, cars, limits, exact)
    if run.repair():
        run.hand_out()
        check_evenness(limits, check_limits(heads, taken, cars.paths, run.amperes))
        return run.amperes
    for limit in limits:
        if limit.excess(run.usage) > 0:
            highest = max(limit.rows, key=lambda row: run.usage[row].real)
            lowest = min(limit.rows, key=lambda row: run.usage[row].real)
            for i in reversed(range(len(cars))):
                own = {row for row, _ in cars.paths[i]}
                if highest in own and lowest not in own:
                    return i
    raise OurFault("lines are too unequal, and no car is to blame")
