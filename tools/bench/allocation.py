"""Processor time of one allocation from scratch: ours beside plain progressive filling, in one run.

Three levels (supply, boards of 50 cars, groups of 10), half of the cars on three lines, half on one, in
the star and for 200 and 1,000 cars in the delta. Ours is the whole of `allocate`: admission, exact
shares, the certificate, whole amperes with the rest handed out, a reason for each car. The reference is
the textbook's filling alone, written twice: with numpy over a matrix of rows and cars, and in plain
Python. It knows no admission, no certificate, no rounding and no reasons; what it finds must be equal.
"""

import random
import statistics
import time
from collections.abc import Callable, Sequence

import numpy as np

from api.cli.serve import settle
from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.currents import MissingLine, Network
from csms.power.sharing.demand import Demand

SIZES = (200, 500, 1000, 2000, 5000)
TO_BEAT_MS = {200: 2.5, 1000: 53.0}
UNEVEN = (100, 400)
BUDGET_S = 1.5


def garage(cars: int, system: System, step_a: float) -> tuple[Network, list[Demand]]:
    """An invented garage, the same for equal arguments."""
    rnd = random.Random(cars)
    circuits = [Circuit(id="supply", limit_a=dict.fromkeys(LINES, 6.5 * cars))]
    for board in range((cars + 49) // 50):
        limit_a = {line: float(rnd.randint(340, 520)) for line in LINES}
        circuits.append(Circuit(id=f"board-{board}", fed_from="supply", limit_a=limit_a))
        for group in range(5):
            limit_a = {line: float(rnd.randint(65, 130)) for line in LINES}
            circuits.append(Circuit(id=f"group-{board}-{group}", fed_from=f"board-{board}", limit_a=limit_a))
    demands = []
    for i in range(cars):
        first = rnd.randrange(3)
        turned = (*LINES[first:], *LINES[:first])
        demands.append(
            Demand(
                id=f"car-{i:04}",
                circuit=f"group-{i // 50}-{i % 50 // 10}",
                lines=turned if rnd.random() < 0.5 else turned[: 2 if system.is_delta else 1],
                max_a=float(rnd.randint(8, 32)),
                waiting_s=float(rnd.randrange(1000)),
                step_a=step_a,
            )
        )
    return Network(Installation(system=system, circuits=tuple(circuits))), demands


def matrix(network: Network, demands: Sequence[Demand]) -> tuple[np.ndarray, np.ndarray]:
    """What each car adds to each row in A per A (0 or 1), and what the rows leave; only rows with cars."""
    loads = np.zeros((len(network.limits), len(demands)))
    for i, demand in enumerate(demands):
        path = network.path(demand.circuit, demand.lines)
        assert not isinstance(path, MissingLine)
        for row, value in path:
            loads[row, i] = abs(value)
    there = loads.any(axis=1)
    return loads[there], np.array(network.heads())[there]


def filled_by_numpy(
    loads: np.ndarray, heads: np.ndarray, minimum_a: float, maximums: np.ndarray
) -> np.ndarray:
    """Raise all, stop who is at its maximum or on a full row, go on."""
    amperes = np.full(loads.shape[1], minimum_a)
    rising = amperes < maximums
    while rising.any():
        slope = loads @ rising
        with np.errstate(divide="ignore", invalid="ignore"):
            by_row = np.where(slope > 0, (heads - loads @ amperes) / slope, np.inf)
        more = max(0.0, min(by_row.min(), (maximums - amperes)[rising].min()))
        amperes = amperes + more * rising
        full = (by_row <= more + 1e-9) & (slope > 0)
        rising &= (amperes < maximums - 1e-9) & ~(loads[full].any(axis=0))
    return amperes


def filled_by_python(
    loads: Sequence[Sequence[int]], heads: Sequence[float], minimum_a: float, maximums: Sequence[float]
) -> list[float]:
    """The same with lists: `loads` are the rows of each car, each of which carries its amperes."""
    amperes = [minimum_a] * len(loads)
    rising = {i for i, most in enumerate(maximums) if minimum_a < most}
    carried = [0.0] * len(heads)
    slope = [0] * len(heads)
    for i, rows in enumerate(loads):
        for row in rows:
            carried[row] += minimum_a
            slope[row] += i in rising
    while rising:
        more = min(maximums[i] - amperes[i] for i in rising)
        for row, count in enumerate(slope):
            if count:
                more = min(more, max(0.0, (heads[row] - carried[row]) / count))
        for i in rising:
            amperes[i] += more
        full = set()
        for row, count in enumerate(slope):
            if count:
                carried[row] += more * count
                if carried[row] >= heads[row] - 1e-9:
                    full.add(row)
        for i in list(rising):
            if amperes[i] >= maximums[i] - 1e-9 or any(row in full for row in loads[i]):
                rising.remove(i)
                for row in loads[i]:
                    slope[row] -= 1
    return amperes


def milliseconds(work: Callable[[], object]) -> list[float]:
    """Processor time of each run, of as many as fit a second or two (three at least)."""
    work()
    figures: list[float] = []
    begun = time.process_time()
    while len(figures) < 3 or (time.process_time() - begun < BUDGET_S and len(figures) < 200):
        before = time.process_time()
        work()
        figures.append(1000 * (time.process_time() - before))
    return figures


def shown(figures: Sequence[float]) -> str:
    return f"{statistics.median(figures):9.2f}  ({min(figures):.2f} to {max(figures):.2f})"


def star(cars: int) -> None:
    """Print ours and the references for one size, after checking that they agree."""
    network, demands = garage(cars, System.TN_400, 0.0)
    exact = allocate(network, demands)
    assert len(exact.offers_a) == cars, "every car must have been admitted, or the references differ"
    maximums = [d.max_a for d in demands]
    loads, heads = matrix(network, demands)
    rows = [list(map(int, np.flatnonzero(loads[:, i]))) for i in range(cars)]
    ours = [exact.offers_a[d.id] for d in demands]
    by_numpy = filled_by_numpy(loads, heads, 6.0, np.array(maximums))
    by_python = filled_by_python(rows, list(heads), 6.0, maximums)
    assert np.allclose(ours, by_numpy, atol=0.001)
    assert np.allclose(ours, by_python, atol=0.001)
    _, whole = garage(cars, System.TN_400, 1.0)
    to_beat = f"   to beat: {TO_BEAT_MS[cars]:g}" if cars in TO_BEAT_MS else ""
    figures = milliseconds(lambda: allocate(network, whole))
    print(f"  {cars:5} cars, star   ours, whole amperes    {shown(figures)}{to_beat}")
    figures = milliseconds(lambda: allocate(network, demands))
    print(f"                      ours, exact            {shown(figures)}")
    figures = milliseconds(lambda: filled_by_python(rows, list(heads), 6.0, maximums))
    print(f"                      filling, plain Python  {shown(figures)}")
    if cars <= 2000:
        figures = milliseconds(lambda: filled_by_numpy(loads, heads, 6.0, np.array(maximums)))
        print(f"                      filling, numpy         {shown(figures)}")


def delta(cars: int) -> None:
    """Print ours in the delta."""
    network, demands = garage(cars, System.IT_230, 1.0)
    found = allocate(network, demands)
    figures = shown(milliseconds(lambda: allocate(network, demands)))
    print(f"  {cars:5} cars, delta  ours, whole amperes    {figures}   {len(found.offers_a)} admitted")


def unbalanced(cars: int) -> None:
    """Print ours under a limit on unbalance that binds: of a hundred cars 90 are on L1, one each on L2 and
    L3, and most have to wait, though there is room on every line."""
    rnd = random.Random(cars)
    circuits = [Circuit(id="supply", limit_a=dict.fromkeys(LINES, 400.0), unbalance_a=5.0)]
    boards = (cars + 19) // 20
    limit_a = dict.fromkeys(LINES, 63.0)
    circuits += [Circuit(id=f"board-{b}", fed_from="supply", limit_a=limit_a) for b in range(boards)]
    network = Network(Installation(system=System.TN_400, circuits=tuple(circuits)))
    demands = [
        Demand(
            id=f"car-{i:04}",
            circuit=f"board-{i // 20}",
            lines=rnd.choices(((LINES[0],), (LINES[1],), (LINES[2],), LINES), (90, 1, 1, 8))[0],
            max_a=rnd.choice((16.0, 32.0)),
            waiting_s=float(rnd.randrange(1000)),
            step_a=1.0,
        )
        for i in range(cars)
    ]
    found = allocate(network, demands)
    figures = shown(milliseconds(lambda: allocate(network, demands)))
    print(f"  {cars:5} cars, uneven ours, whole amperes    {figures}   {len(found.offers_a)} admitted")


async def main() -> None:
    """Print all sizes."""
    settle()
    print("Allocation from scratch, three levels: processor time in ms, median (lowest to highest)")
    for cars in SIZES:
        star(cars)
    for cars in TO_BEAT_MS:
        delta(cars)
    for cars in UNEVEN:
        unbalanced(cars)
