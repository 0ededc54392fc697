"""The linear programme: amperes by car and slot, and what each need is short of.

minimise    sum of cost x energy + penalty x shortfall
subject to  energy(car) + short(car) + excess(car) = need(car)    every car, over its slots
            sum of weight x amperes <= head             every cut and slot that could be full
            0 <= amperes <= max                         (0 or at least 6 A is `repair`'s)

`short` has the fair share of a shortfall as its bound; `excess` is what is above that, far dearer, and 0
until amperes are held to what a car can be told. `level` and the rows short(car) - need(car) x level <= 0
are there for `shortfall` and rest otherwise.
Built from arrays: to build it in loops takes longer than to solve it. The model is kept, and solved again
from where it stands with other bounds.
"""

import time
from enum import Enum

import numpy as np

from csms.errors import OurFault
from csms.power.planner.layout import Booleans, Floats, Ints, Layout
from csms.power.sharing.solver import new_solver

NEED_PENALTY = 100.0
EAGER_PENALTY = 10.0
"""Times the highest price. A need is above an assumption, also where one ampere serves it by a third."""
EXCESS = 10.0
"""Times the penalty of a shortfall that is fair."""
TOLERANCE = 1e-7


class How(Enum):
    """From where to solve. INTERIOR: from nowhere, for another objective; DUAL: bounds have changed; PRIMAL:
    what was found still holds."""

    INTERIOR = "interior"
    DUAL = "dual"
    PRIMAL = "primal"


class Program:
    """The programme of one problem. Columns: amperes; short and excess by car; the level."""

    def __init__(self, layout: Layout, until: float | None = None) -> None:
        """`until`: the end of the time there is, on the monotonic clock; None: the problem's limit."""
        import highspy

        self.layout = layout
        self._highs = highspy
        self._infinity = highspy.kHighsInf
        self.until = time.monotonic() + layout.problem.time_limit_s if until is None else until
        self.car, self.slot = np.nonzero(layout.window)
        self._amps = len(self.car)
        self._cars = len(layout.problem.cars)
        self._first_short = self._amps
        self._first_excess = self._amps + self._cars
        self._level = self._amps + 2 * self._cars
        self.short_most = layout.need.copy()
        self._solver = new_solver()
        for option in ("primal_feasibility_tolerance", "dual_feasibility_tolerance"):
            self._solver.setOptionValue(option, TOLERANCE)
        self._solver.setOptionValue("presolve", "off")
        self._pass()

    @property
    def left_s(self) -> float:
        """Seconds until the time limit."""
        return self.until - time.monotonic()

    def _pass(self) -> None:
        layout, lp = self.layout, self._highs.HighsLp()
        cars, amps = self._cars, self._amps
        columns = self._level + 1
        # Rows: the needs, the levels, the cuts that could be full.
        each = np.arange(cars)
        rows = [self.car, each, each, cars + each, cars + each]
        short, level = self._first_short + each, np.full(cars, self._level)
        cols = [np.arange(amps), short, self._first_excess + each, short, level]
        ones = np.ones(cars)
        values = [layout.kwh[self.car, self.slot], ones, ones, ones, -layout.need]
        most = layout.weight @ (layout.window * layout.high[:, None])
        binding = np.isfinite(layout.head) & (most > layout.head + 1e-9)
        number = np.cumsum(binding.ravel()).reshape(binding.shape) - 1
        for q in range(len(layout.weight)):
            loads = layout.weight[q, self.car]
            those = np.nonzero((loads != 0.0) & binding[q, self.slot])[0]
            rows.append(2 * cars + number[q, self.slot[those]])
            cols.append(those)
            values.append(loads[those])
        row = np.concatenate(rows)
        order = np.argsort(row, kind="stable")
        heads = layout.head[binding]
        count = 2 * cars + len(heads)
        starts = np.zeros(count + 1, dtype=np.int64)
        starts[1:] = np.cumsum(np.bincount(row, minlength=count))
        lp.num_col_, lp.num_row_ = columns, count
        lp.col_cost_ = self._costs()
        lp.col_lower_ = np.zeros(columns)
        lp.col_upper_ = np.concatenate([layout.high[self.car], layout.need, 0.0 * layout.need, [1.0]])
        free = np.full(cars, self._infinity)
        lp.row_lower_ = np.concatenate([layout.need, np.full(count - cars, -self._infinity)])
        lp.row_upper_ = np.concatenate([layout.need, free, heads])
        lp.a_matrix_.format_ = self._highs.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = starts
        lp.a_matrix_.index_ = np.concatenate(cols)[order]
        lp.a_matrix_.value_ = np.concatenate(values)[order]
        self._solver.passModel(lp)

    def _costs(self) -> Floats:
        layout = self.layout
        amps = (layout.cost * layout.kwh)[self.car, self.slot]
        penalty = np.where(layout.eager, EAGER_PENALTY, NEED_PENALTY) * layout.scale
        return np.concatenate([amps, penalty, EXCESS * penalty, [0.0]])

    # What is asked for

    def cheapest(self, how: How = How.DUAL) -> bool:
        """Solve for least cost. False: time ran out."""
        self._cost(self._costs())
        return self._solve(how)

    def lowest_level(self, how: How) -> bool:
        """Solve for the lowest level, whatever it costs. False: time ran out."""
        costs = np.zeros(self._level + 1)
        costs[self._level] = 1.0
        self._cost(costs)
        return self._solve(how)

    def bind(self, cars: Ints, bound: bool) -> None:
        """Whether the shortfalls of `cars` are held below the level."""
        upper = np.full(len(cars), 0.0 if bound else self._infinity)
        self._rows(self._cars + cars, np.full(len(cars), -self._infinity), upper)

    def short_at_most(self, cars: Ints, kwh: Floats) -> None:
        """Nobody of `cars` is short of more than that."""
        self.short_most[cars] = np.minimum(self.layout.need[cars], kwh)
        self._bounds(self._first_short + cars, np.zeros(len(cars)), self.short_most[cars])

    def hold(self, on: Booleans, over: Floats) -> None:
        """Each car at its minimum at least in the slots where it is `on`, at nothing in all others; `over`:
        kWh by which each may be given more than it needs. A shortfall may pass its bound from here on."""
        runs = on[self.car, self.slot]
        low, high = self.layout.low[self.car], self.layout.high[self.car]
        self._bounds(np.arange(self._amps), np.where(runs, low, 0.0), np.where(runs, high, 0.0))
        self.allow_excess()
        need = self.layout.need
        self._rows(np.arange(self._cars), need, need + over)

    def allow_excess(self) -> None:
        """Shortfalls may pass their bounds from here on."""
        self._bounds(self._first_excess + np.arange(self._cars), np.zeros(self._cars), self.layout.need)

    # What is found

    @property
    def amps(self) -> Floats:
        """A by car and slot."""
        found = np.zeros(self.layout.window.shape)
        found[self.car, self.slot] = self._values[: self._amps]
        return found

    @property
    def short(self) -> Floats:
        """kWh by car."""
        return self._values[self._first_short : self._first_excess]

    @property
    def level(self) -> float:
        return float(self._values[self._level])

    def priced(self, cars: Ints) -> Ints:
        """Those of `cars` that keep the level from being lower in every best solution."""
        duals = np.array(self._solver.getSolution().row_dual)[self._cars + cars]
        found: Ints = cars[np.abs(duals) > TOLERANCE]
        return found

    def _cost(self, costs: Floats) -> None:
        self._solver.changeColsCost(len(costs), np.arange(len(costs), dtype=np.int32), costs)

    def _bounds(self, columns: Ints, low: Floats, high: Floats) -> None:
        self._solver.changeColsBounds(len(columns), columns.astype(np.int32), low, high)

    def _rows(self, rows: Ints, low: Floats, high: Floats) -> None:
        change = self._solver.changeRowsBounds  # type: ignore[attr-defined]
        change(len(rows), rows.astype(np.int32), low, high)

    def _solve(self, how: How) -> bool:
        self._solver.setOptionValue("solver", "ipm" if how is How.INTERIOR else "simplex")
        self._solver.setOptionValue("simplex_strategy", 4 if how is How.PRIMAL else 1)
        if self.left_s <= 0:
            return False
        self._solver.setOptionValue("time_limit", self._solver.getRunTime() + self.left_s)
        self._solver.run()
        status = self._solver.getModelStatus()
        if status == self._highs.HighsModelStatus.kOptimal:
            self._values = np.array(self._solver.getSolution().col_value)
            return True
        if status == self._highs.HighsModelStatus.kTimeLimit:
            return False
        raise OurFault(f"the plan's programme ended as {self._solver.modelStatusToString(status)}")
