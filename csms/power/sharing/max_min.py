"""Max-min fair shares where lowering a car can break a limit: max-min programming by linear programmes.

Raise the lowest level (amperes per weight) as far as it goes; whoever's level has a price (a dual) is at
that level in every best solution and stays there; go on with the others (Radunovic and Le Boudec). Only for
the star: rows are sums of amperes. Needs the solver of phaseyard[optimise].
"""

from collections.abc import Sequence

from csms.errors import OurFault
from csms.power.sharing.cars import Cars
from csms.power.sharing.currents import Path
from csms.power.sharing.solver import new_solver

PRICED = 1e-7


class MaxMin:
    """The programme of one run; `differences`: (higher row, lower row, most A that the higher may be above).

    Columns are the cars and the common level; a car that is not admitted is held at 0.
    """

    def __init__(
        self,
        heads: Sequence[float],
        taken: Sequence[complex],
        cars: Cars,
        differences: Sequence[tuple[int, int, float]],
    ) -> None:
        import highspy

        self._cars = cars
        self._count = len(cars)
        self._infinity = highspy.kHighsInf
        self._highs = highspy
        rows: list[tuple[dict[int, float], float]] = []
        on_row = _on_row(cars.paths)
        for row, loads in on_row.items():
            if heads[row] < self._infinity:
                rows.append((loads, heads[row] - taken[row].real))
        for high, low, most in differences:
            loads = dict(on_row.get(high, {}))
            for i, value in on_row.get(low, {}).items():
                loads[i] = loads.get(i, 0.0) - value
            loads = {i: value for i, value in loads.items() if value}
            if loads:
                rows.append((loads, most - taken[high].real + taken[low].real))
        self._first_level = len(rows)
        self._solver = new_solver()
        self._admitted: set[int] = set()
        self._pass(rows)

    def _pass(self, rows: Sequence[tuple[dict[int, float], float]]) -> None:
        lp = self._highs.HighsLp()
        n = self._count
        levels = [({i: 1.0, n: -self._cars.weights[i]}, 0.0) for i in range(n)]
        lp.num_col_ = n + 1
        lp.num_row_ = len(rows) + n
        lp.sense_ = self._highs.ObjSense.kMaximize
        lp.col_cost_ = [0.0] * n + [1.0]
        lp.col_lower_ = [0.0] * (n + 1)
        lp.col_upper_ = [0.0] * (n + 1)
        lp.row_lower_ = [-self._infinity] * (len(rows) + n)
        lp.row_upper_ = [limit for _, limit in rows] + [self._infinity] * n
        starts: list[int] = [0]
        index: list[int] = []
        value: list[float] = []
        for loads, _ in [*rows, *levels]:
            index += loads.keys()
            value += loads.values()
            starts.append(len(index))
        lp.a_matrix_.format_ = self._highs.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = starts
        lp.a_matrix_.index_ = index
        lp.a_matrix_.value_ = value
        self._solver.passModel(lp)

    def fits(self, cars: Sequence[int]) -> bool:
        """Whether `cars` can all run at once, each within its range, the others at 0; no levels yet."""
        chosen = set(cars)
        for i in self._admitted ^ chosen:
            self._admit(i, i in chosen)
        self._admitted = chosen
        return self._solve()

    def _admit(self, i: int, admitted: bool) -> None:
        low, high = (self._cars.minimums[i], self._cars.maximums[i]) if admitted else (0.0, 0.0)
        self._solver.changeColBounds(i, low, high)

    def _solve(self) -> bool:
        self._solver.run()
        status = self._solver.getModelStatus()
        if status == self._highs.HighsModelStatus.kOptimal:
            return True
        if status == self._highs.HighsModelStatus.kInfeasible:
            return False
        raise OurFault(f"the solver ended with {self._solver.modelStatusToString(status)}")

    def shares(self, cars: Sequence[int]) -> list[float]:
        """The fair amperes of `cars`, which fit (0 for the others). Ranks are served one after the other."""
        if not self.fits(cars):
            raise OurFault("max-min programming was asked for cars that do not fit")
        ranks = self._cars.ranks or [0] * self._count
        fixed = [0.0] * self._count
        for rank in sorted({ranks[i] for i in cars}):
            self._raise([i for i in cars if ranks[i] == rank], fixed)
        for i in self._admitted:  # they were fixed: the next question begins anew
            self._admit(i, False)
        self._admitted = set()
        return fixed

    def _raise(self, group: Sequence[int], fixed: list[float]) -> None:
        solver, weights, minimums = self._solver, self._cars.weights, self._cars.minimums
        solver.changeColBounds(self._count, 0.0, self._infinity)
        free = list(group)
        for i in free:
            solver.changeRowBounds(self._first_level + i, 0.0, self._infinity)
        while free:
            if not self._solve():
                raise OurFault("max-min programming lost its footing")
            found = solver.getSolution()
            level = found.col_value[self._count]
            prices = {i: abs(found.row_dual[self._first_level + i]) for i in free}
            stuck = [i for i in free if prices[i] > PRICED] or [max(free, key=lambda i: prices[i])]
            for i in stuck:
                amperes = min(max(minimums[i], level * weights[i]), self._cars.maximums[i])
                fixed[i] = amperes
                # A hair of freedom, or the arithmetic of the next round may find no solution at all.
                low = max(minimums[i], amperes - TINY_A)
                solver.changeColBounds(i, low, max(low, min(amperes + TINY_A, self._cars.maximums[i])))
                solver.changeRowBounds(self._first_level + i, -self._infinity, self._infinity)
            free = [i for i in free if i not in set(stuck)]
        solver.changeColBounds(self._count, 0.0, 0.0)


TINY_A = 1e-8


def _on_row(paths: Sequence[Path]) -> dict[int, dict[int, float]]:
    found: dict[int, dict[int, float]] = {}
    for i, path in enumerate(paths):
        for row, value in path:
            found.setdefault(row, {})[i] = value.real
    return found
