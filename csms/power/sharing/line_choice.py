"""Which line a single-phase car gets where its station can choose.

Sought is the assignment that serves the order of service best (who is admitted), and then leaves the best
worst-off car, the best second-worst, and so on. All assignments are tried where they are few; otherwise a
greedy start is improved by moving one, two or three cars at a time until nothing helps or enough has been
tried. Cars that charge already are no part of this: a line is not changed under load.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, product
from math import prod

from csms.power.sharing.admission import admit
from csms.power.sharing.currents import Path
from csms.power.sharing.filling import fill_ranked

Options = Sequence[Sequence[Path]]
"""Per car the ways it could be connected; one for most."""

Score = tuple[tuple[bool, ...], tuple[float, ...]]


def evaluations(cars: int) -> int:
    """How many assignments may be looked at: a tenth of a second's work at any size."""
    return max(30, 8000 // max(1, cars))


class LineChoice:
    """One search; `order` is the order of service, everything else is indexed by car."""

    def __init__(
        self,
        heads: Sequence[float],
        taken: Sequence[complex],
        order: Sequence[int],
        options: Options,
        minimums: Sequence[float],
        maximums: Sequence[float],
        weights: Sequence[float],
        ranks: Sequence[int] | None = None,
    ) -> None:
        self.heads, self.taken, self.order, self.options = heads, taken, order, options
        self.minimums, self.maximums, self.weights, self.ranks = minimums, maximums, weights, ranks
        self.choosers = [i for i in order if len(options[i]) > 1]

    def best(self, at_most: int | None = None) -> list[int]:
        """The option of each car; `at_most`: assignments to look at."""
        budget = evaluations(len(self.options)) if at_most is None else at_most
        start = self.greedy()
        if not self.choosers:
            return start
        if prod(len(self.options[i]) for i in self.choosers) <= budget:
            return self.exhaustive(start)
        return self.improved(start, budget)

    def score(self, chosen: Sequence[int]) -> Score:
        """The higher the better."""
        paths = [ways[k] for ways, k in zip(self.options, chosen, strict=True)]
        usage = list(self.taken)
        admitted, refused = admit(self.heads, usage, self.order, paths, self.minimums)
        found = fill_ranked(
            self.heads,
            usage,
            [paths[i] for i in admitted],
            [self.minimums[i] for i in admitted],
            [self.maximums[i] for i in admitted],
            [self.weights[i] for i in admitted],
            None if self.ranks is None else [self.ranks[i] for i in admitted],
        )
        levels = (a / self.weights[i] for a, i in zip(found.amperes, admitted, strict=True))
        # Rounded, so that the last digits of sums do not decide.
        return tuple(i not in refused for i in self.order), tuple(sorted(round(level, 6) for level in levels))

    def greedy(self) -> list[int]:
        """Each chooser in turn where the most is left per weight, the others counted first."""
        chosen = [0] * len(self.options)
        usage = list(self.taken)
        weight = [0.0] * len(self.heads)

        def left(i: int, path: Path) -> float:
            return min(
                (self.heads[row] - abs(usage[row] + self.minimums[i] * value))
                / (weight[row] + self.weights[i] * abs(value))
                for row, value in path
            )

        fixed = [i for i in self.order if len(self.options[i]) == 1]
        for i in [*fixed, *self.choosers]:
            ways = self.options[i]
            chosen[i] = max(range(len(ways)), key=lambda k: left(i, ways[k])) if len(ways) > 1 else 0
            path = ways[chosen[i]]
            if left(i, path) >= 0:
                for row, value in path:
                    usage[row] += self.minimums[i] * value
                    weight[row] += self.weights[i] * abs(value)
        return chosen

    def exhaustive(self, start: Sequence[int]) -> list[int]:
        """The best of all; among equals the first."""
        best, best_score = list(start), self.score(start)
        for ways in product(*(range(len(self.options[i])) for i in self.choosers)):
            chosen = list(start)
            for i, k in zip(self.choosers, ways, strict=True):
                chosen[i] = k
            score = self.score(chosen)
            if score > best_score:
                best, best_score = chosen, score
        return best

    def improved(self, start: Sequence[int], budget: int) -> list[int]:
        """From `start` on uphill: the first change that helps is made, and the search begins anew."""
        best, best_score = list(start), self.score(start)
        budget -= 1
        better = True
        while better:
            better = False
            for chosen in self._near(best):
                if budget <= 0:
                    return best
                budget -= 1
                score = self.score(chosen)
                if score > best_score:
                    best, best_score, better = chosen, score, True
                    break
        return best

    def _near(self, chosen: Sequence[int]) -> Iterator[list[int]]:
        for size in (1, 2, 3):
            for cars in combinations(self.choosers, size):
                others = ([k for k in range(len(self.options[i])) if k != chosen[i]] for i in cars)
                for ways in product(*others):
                    near = list(chosen)
                    for i, k in zip(cars, ways, strict=True):
                        near[i] = k
                    yield near
