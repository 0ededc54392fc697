"""Weighted max-min fair shares by progressive filling.

All cars rise together in amperes per weight; who reaches a maximum or touches a full row stays.
Exact wherever lowering a car never breaks a limit: the star (sums) and the delta (the line current
grows strictly in every car's current). A limit on the unbalance between lines is not of that kind.

A car counts as rising only above its own minimum: until the common level has come up to it, its
current is fixed. Each row keeps the fixed part and the slope of its current over the level, and a
queue holds the level at which it is full. A car that stops only makes that level later, so the entry
is corrected when it comes up, not when the car stops: n log n in all.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from csms.power.sharing.currents import Path, level_at

AT_MAXIMUM = -1
"""In `Filling.stopped_by`: the car's own maximum, not a row."""

_WAITING, _RISING, _STOPPED = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Filling:
    """Amperes per car, and the row that stopped it (or AT_MAXIMUM)."""

    amperes: list[float]
    stopped_by: list[int]


class _Filler:
    """One run; everything is indexed by car (position in `paths`) or by row."""

    def __init__(
        self,
        heads: Sequence[float],
        usage: Sequence[complex],
        paths: Sequence[Path],
        minimums: Sequence[float],
        weights: Sequence[float],
    ) -> None:
        self.heads = heads
        self.paths = paths
        self.weights = weights
        self.amperes = list(minimums)
        self.stopped_by = [AT_MAXIMUM] * len(paths)
        self.state = bytearray(len(paths))
        self.fixed = list(usage)
        self.slope: list[complex] = [0.0] * len(heads)
        self.on_row: dict[int, list[int]] = {}
        for i, path in enumerate(paths):
            for row, _ in path:
                if row in self.on_row:
                    self.on_row[row].append(i)
                else:
                    self.on_row[row] = [i]
        self.queue: list[tuple[float, int]] = []

    def start(self, cars: Sequence[int], level: float) -> None:
        """From here on the current of `cars` is level * weight."""
        for i in cars:
            self.state[i] = _RISING
        fixed, slope = self.fixed, self.slope
        for row in self._shift(cars, -1.0):
            heappush(self.queue, (max(level, level_at(fixed[row], slope[row], self.heads[row])), row))

    def stop(self, cars: Sequence[int], row: int) -> None:
        """`cars` stay at their `amperes` from here on, because of `row`."""
        for i in cars:
            self.state[i] = _STOPPED
            self.stopped_by[i] = row
        self._shift(cars, 1.0)

    def _shift(self, cars: Sequence[int], sign: float) -> Iterable[int]:
        """Move `cars` from rising to fixed, or back with `sign` -1; returns the rows that they load.

        Cars on one circuit and line share one path object: they are summed up first.
        """
        fixed, slope = self.fixed, self.slope
        if len(cars) == 1:
            amperes, weight = sign * self.amperes[cars[0]], sign * self.weights[cars[0]]
            for row, value in self.paths[cars[0]]:
                fixed[row] += amperes * value
                slope[row] -= weight * value
            return [row for row, _ in self.paths[cars[0]]]
        sums: dict[int, list[float]] = {}
        paths: dict[int, Path] = {}
        for i in cars:
            path = self.paths[i]
            both = sums.get(id(path))
            if both is None:
                paths[id(path)], sums[id(path)] = path, [self.amperes[i], self.weights[i]]
            else:
                both[0] += self.amperes[i]
                both[1] += self.weights[i]
        touched: set[int] = set()
        for key, (amperes, weight) in sums.items():
            amperes, weight = sign * amperes, sign * weight
            for row, value in paths[key]:
                fixed[row] += amperes * value
                slope[row] -= weight * value
                touched.add(row)
        return touched

    def next_full(self, level: float, before: float) -> tuple[float, int] | None:
        """The next row that is full, and at which level, if that is below `before`."""
        queue = self.queue
        while queue and queue[0][0] < before:
            expected, row = heappop(queue)
            exact = max(level, level_at(self.fixed[row], self.slope[row], self.heads[row]))
            if exact <= expected + 1e-12 * (1.0 + abs(expected)):
                return max(expected, level), row
            if exact != float("inf"):
                heappush(queue, (exact, row))
        return None


def fill(
    heads: Sequence[float],
    usage: Sequence[complex],
    paths: Sequence[Path],
    minimums: Sequence[float],
    maximums: Sequence[float],
    weights: Sequence[float],
) -> Filling:
    """Share what `heads` leaves. `usage` includes every car's minimum, and that fits."""
    run = _Filler(heads, usage, paths, minimums, weights)
    state = run.state
    starts = sorted((minimums[i] / weights[i], i) for i in range(len(paths)))
    stops = [(maximums[i] / weights[i], i) for i in range(len(paths))]
    heapify(stops)
    begun = 0
    level = 0.0
    infinity = float("inf")
    while True:
        while stops and state[stops[0][1]] == _STOPPED:
            heappop(stops)
        at_start = starts[begun][0] if begun < len(starts) else infinity
        at_stop = stops[0][0] if stops else infinity
        before = min(at_start, at_stop)
        full = run.next_full(level, before)
        if full is not None:
            level, row = full
            those = [i for i in run.on_row[row] if state[i] == _RISING]
            for i in those:
                run.amperes[i] = min(max(minimums[i], level * weights[i]), maximums[i])
            run.stop(those, row)
        elif before == infinity:
            return Filling(run.amperes, run.stopped_by)
        elif at_start <= at_stop:
            level = at_start
            upto = bisect_right(starts, (level, len(starts)))
            run.start([i for _, i in starts[begun:upto]], level)
            begun = upto
        else:
            level, i = heappop(stops)
            run.amperes[i] = maximums[i]
            run.stop((i,), AT_MAXIMUM)


def fill_ranked(
    heads: Sequence[float],
    usage: Sequence[complex],
    paths: Sequence[Path],
    minimums: Sequence[float],
    maximums: Sequence[float],
    weights: Sequence[float],
    ranks: Sequence[int] | None,
) -> Filling:
    """As `fill`, but a lower rank takes what it can before the next gets more than its minimum."""
    if ranks is None or len(set(ranks)) <= 1:
        return fill(heads, usage, paths, minimums, maximums, weights)
    carried = list(usage)
    amperes = list(minimums)
    stopped_by = [AT_MAXIMUM] * len(paths)
    groups: dict[int, list[int]] = {}
    for i, rank in enumerate(ranks):
        groups.setdefault(rank, []).append(i)
    for rank in sorted(groups):
        group = groups[rank]
        if len(group) == 1:
            (i,) = group
            amperes[i], stopped_by[i] = _highest(heads, carried, paths[i], minimums[i], maximums[i])
        else:
            found = fill(
                heads,
                carried,
                [paths[i] for i in group],
                [minimums[i] for i in group],
                [maximums[i] for i in group],
                [weights[i] for i in group],
            )
            for i, current, row in zip(group, found.amperes, found.stopped_by, strict=True):
                amperes[i], stopped_by[i] = current, row
        for i in group:
            more = amperes[i] - minimums[i]
            if more:
                for row, value in paths[i]:
                    carried[row] += more * value
    return Filling(amperes, stopped_by)


def _highest(
    heads: Sequence[float], carried: Sequence[complex], path: Path, minimum: float, maximum: float
) -> tuple[float, int]:
    """The most for one car with all others as they are, and what stops it."""
    most, stopped_by = maximum, AT_MAXIMUM
    for row, value in path:
        at = level_at(carried[row] - minimum * value, value, heads[row])
        if at < most:
            most, stopped_by = max(at, minimum), row
    return most, stopped_by
