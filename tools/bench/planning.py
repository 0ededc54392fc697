"""A plan for 100 cars over 96 quarter hours: time, and cost beside the exact programme's, in one run.

An invented garage: a supply, five boards, sixty cars on three lines and forty on one, needs from 4 to 30 kWh
by departures over the second half of the day, hourly prices. Ours is the whole of `optimise`: the programme,
fairness where needs cannot be met, whole minima, fewer starts, the certificate. Beside it stands the same
problem as HiGHS solves it with "0 or at least 6 A" and starts as whole numbers, given our plan to begin with
and two minutes: its best plan, and the bound below which no plan can be. The plain programme, in which any
ampere may be told and starts cost nothing, is a bound too.
"""

import math
import random
import statistics
import time
from dataclasses import replace

import numpy as np

from csms.power.planner.layout import Layout, lay_out
from csms.power.planner.optimise import optimise
from csms.power.planner.problem import PlannedCar, Problem, Solution
from csms.power.planner.program import Program
from csms.power.sharing.solver import new_solver

CARS, SLOTS, BOARDS = 100, 96, 5
EXACT_LIMIT_S = 120.0
ROUNDS = 5
SHORT_PENALTY = 50.0


def garage(
    cars: int = CARS,
    *,
    seed: int = 1,
    supply_a: float = 160.0,
    need: float = 1.0,
    two_prices: bool = False,
) -> Problem:
    """The same for equal arguments. Rows as in `csms.power.sharing.currents`: the supply, then the boards."""
    rnd = random.Random(seed)
    made = []
    for i in range(cars):
        three = i % 5 < 3
        lines = (0, 1, 2) if three else (i % 3,)
        board = 4 + 4 * rnd.randrange(BOARDS)
        made.append(
            PlannedCar(
                id=f"car-{i:03}",
                path=tuple((row, 1.0) for line in lines for row in (board + line, line)),
                watts_per_a=230.0 * len(lines),
                max_a=16.0 if three else 32.0,
                need_wh=need * rnd.uniform(4_000, 30_000),
                last=rnd.randint(SLOTS // 2, SLOTS),
                seed=rnd.random(),
            )
        )
    heads = {
        line: tuple(supply_a - 40.0 - 20.0 * math.sin(slot / 15) for slot in range(SLOTS))
        for line in range(3)
    }
    for board in range(BOARDS):
        heads |= {4 + 4 * board + line: (63.0,) * SLOTS for line in range(3)}
    hourly = [rnd.uniform(0.1, 0.5) for _ in range(SLOTS // 4)]
    prices = tuple(
        (0.1 if 28 <= slot < 60 else 0.3) if two_prices else hourly[slot // 4] for slot in range(SLOTS)
    )
    return Problem(
        hours=(0.25,) * SLOTS,
        heads=heads,
        prices=prices,
        cars=tuple(made),
        start_cost=0.02,
        time_limit_s=60.0,
    )


def cost_of(layout: Layout, amps: np.ndarray) -> tuple[float, float, int]:
    """(cost of energy, kWh missing, starts) of a plan, by its amperes alone."""
    kwh = amps * layout.kwh
    on = amps > 1e-6
    starts = int((on[:, 1:] & ~on[:, :-1]).sum() + on[:, 0].sum())
    missing = float(np.maximum(0.0, layout.need - kwh.sum(axis=1)).sum())
    return float((kwh * layout.price).sum()), missing, starts


def exact(layout: Layout, ours: np.ndarray, limit_s: float) -> tuple[np.ndarray, float]:
    """The whole-number programme from `ours` on: its best plan within `limit_s`, and its proven bound.

    Least of energy cost + cost of starts + SHORT_PENALTY per kWh missing, written down apart from ours.
    """
    import highspy

    solver = new_solver()
    for option in ("primal_feasibility_tolerance", "dual_feasibility_tolerance"):
        solver.setOptionValue(option, 1e-7)
    solver.setOptionValue("time_limit", limit_s)
    solver.setOptionValue("mip_rel_gap", 1e-3)
    car, slot = np.nonzero(layout.window)
    count, cars = len(car), len(layout.need)
    amps, on, start, short = 0, count, 2 * count, 3 * count
    lp = highspy.HighsLp()
    kwh = layout.kwh[car, slot]
    lp.num_col_ = 3 * count + cars
    lp.col_cost_ = np.concatenate(
        [
            layout.price[slot] * kwh,
            np.zeros(count),
            np.full(count, layout.problem.start_cost),
            np.full(cars, SHORT_PENALTY),
        ]
    )
    lp.col_lower_ = np.zeros(lp.num_col_)
    lp.col_upper_ = np.concatenate([layout.high[car], np.ones(2 * count), layout.need])
    whole, real = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
    lp.integrality_ = [real] * count + [whole] * count + [real] * (count + cars)
    each = np.arange(count)
    follows = np.nonzero(slot > 0)[0]
    rows: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = []
    infinity = highspy.kHighsInf
    # amps <= high x on, amps >= low x on, start >= on - on before, energy + short = need, limits
    rows.append(_two(amps + each, np.ones(count), on + each, -layout.high[car], -infinity, 0.0))
    rows.append(_two(amps + each, np.ones(count), on + each, -layout.low[car], 0.0, infinity))
    first = np.nonzero(slot == 0)[0]
    rows.append(_two(start + first, np.ones(len(first)), on + first, -np.ones(len(first)), 0.0, infinity))
    ones = np.ones(len(follows))
    rows.append(
        (
            np.tile(np.arange(len(follows)), 3),
            np.concatenate([start + follows, on + follows, on + follows - 1]),
            np.concatenate([ones, -ones, ones]),
            np.zeros(len(follows)),
            np.full(len(follows), infinity),
        )
    )
    rows.append(
        (
            np.concatenate([car, np.arange(cars)]),
            np.concatenate([amps + each, short + np.arange(cars)]),
            np.concatenate([kwh, np.ones(cars)]),
            layout.need,
            layout.need,
        )
    )
    for q in range(len(layout.weight)):
        loads = layout.weight[q, car]
        those = np.nonzero(loads)[0]
        rows.append((slot[those], amps + those, loads[those], np.full(SLOTS, -infinity), layout.head[q]))
    before, index = 0, []
    for row, *_, lower in rows:
        index.append(row + before)
        before += len(lower)
    row = np.concatenate(index)
    order = np.argsort(row, kind="stable")
    lp.num_row_ = before
    lp.row_lower_ = np.concatenate([lower for *_, lower, _ in rows])
    lp.row_upper_ = np.concatenate([upper for *_, upper in rows])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=before))])
    lp.a_matrix_.index_ = np.concatenate([columns for _, columns, *_ in rows])[order]
    lp.a_matrix_.value_ = np.concatenate([values for _, _, values, *_ in rows])[order]
    solver.passModel(lp)
    begin = highspy.HighsSolution()
    is_on = (ours > 1e-6).astype(float)
    starts = is_on - np.concatenate([np.zeros((cars, 1)), is_on[:, :-1]], axis=1)
    missing = np.maximum(0.0, layout.need - (ours * layout.kwh).sum(axis=1))
    begin.col_value = np.concatenate(
        [ours[car, slot], is_on[car, slot], np.maximum(0.0, starts)[car, slot], missing]
    ).tolist()
    solver.setSolution(begin)
    solver.run()
    found = np.zeros(layout.window.shape)
    found[car, slot] = np.array(solver.getSolution().col_value)[:count]
    return found, float(solver.getInfo().mip_dual_bound)


def _two(
    first: np.ndarray, a: np.ndarray, second: np.ndarray, b: np.ndarray, lower: float, upper: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Rows of two columns each."""
    rows = np.arange(len(first))
    return (
        np.tile(rows, 2),
        np.concatenate([first, second]),
        np.concatenate([a, b]),
        np.full(len(rows), lower),
        np.full(len(rows), upper),
    )


def measure(name: str, problem: Problem, compare: bool) -> None:
    """Print time and cost of one problem."""
    figures = []
    solution = Solution()
    for _ in range(ROUNDS):
        before = time.process_time()
        solution = optimise(problem)
        figures.append(time.process_time() - before)
    layout = lay_out(problem)
    ours = np.array([solution.current_a[car.id] for car in problem.cars])
    energy, missing, starts = cost_of(layout, ours)
    took = f"{statistics.median(figures):6.2f} s ({min(figures):.2f} to {max(figures):.2f})"
    print(
        f"  {name}\n    ours      {took}   energy {energy:8.2f}  missing {missing:7.1f} kWh  starts {starts}"
    )
    if not compare:
        return
    before = time.process_time()
    plain = Program(layout)
    assert plain.cheapest()
    least, _, _ = cost_of(layout, plain.amps)
    amps, bound = exact(layout, ours, EXACT_LIMIT_S)
    bound = max(bound, least)
    took = f"{time.process_time() - before:6.2f} s"
    their_energy, their_missing, their_starts = cost_of(layout, amps)
    start = problem.start_cost
    all_ours = energy + start * starts + SHORT_PENALTY * missing
    all_theirs = their_energy + start * their_starts + SHORT_PENALTY * their_missing
    print(
        f"    whole no. {took}                   energy {their_energy:8.2f}  "
        f"missing {their_missing:7.1f} kWh  starts {their_starts}\n"
        f"    ours costs {100 * (energy / their_energy - 1):+.2f} % in energy, "
        f"{100 * (all_ours / all_theirs - 1):+.2f} % with starts; "
        f"{100 * (all_ours / bound - 1):.2f} % above the proven bound of {bound:.2f}"
    )


async def main() -> None:
    """All of it; some minutes."""
    print(f"a plan: {CARS} cars x {SLOTS} quarter hours (bar: 1 s, and 2 % of the whole-number programme)")
    measure("hourly prices", garage(), compare=True)
    measure("two prices", garage(two_prices=True), compare=True)
    measure("hourly prices, wide supply", garage(supply_a=400.0), compare=True)
    measure("more needed than there is", garage(need=2.5), compare=False)
    measure("in two classes", _classes(garage(need=2.5)), compare=False)


def _classes(problem: Problem) -> Problem:
    cars = tuple(replace(car, priority=i % 2) for i, car in enumerate(problem.cars))
    return replace(problem, cars=cars)
