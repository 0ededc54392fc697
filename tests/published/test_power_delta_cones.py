"""Fair shares in a delta against second-order cone programmes (cvxpy with Clarabel).

The cones are written from the electrical formula of the line current, not from this project's phasors:
with pair sums a (L1-L2), b (L3-L1) and a balanced load c, line L1 carries
sqrt(a² + b² + a b + c² + sqrt(3) c (a + b)): the length of (a + b/2 + sqrt(3)/2 c, sqrt(3)/2 b + c/2).
"""

import math
import warnings
from dataclasses import dataclass
from typing import Any

import cvxpy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Connection, Demand

L1, L2, L3 = LINES
PAIRS = [(L1, L2), (L2, L3), (L3, L1)]
HALF, ROOT = 0.5, math.sqrt(3) / 2
KINDS = [Connection.PAIR, Connection.PAIR, Connection.BALANCED, Connection.OPEN_DELTA]
cp: Any = cvxpy


def vectors(line: Line) -> tuple[dict[tuple[Line, Line], tuple[float, float]], tuple[float, float]]:
    """The plane vectors of one ampere in each of the two pairs of `line`, and of a balanced load."""
    first, second = (pair for pair in PAIRS if line in pair)
    return {first: (1.0, 0.0), second: (HALF, ROOT)}, (ROOT, HALF)


def on_line(demand: Demand, line: Line) -> tuple[float, float]:
    """Plane vector of one ampere of the car on `line`."""
    pairs, balanced = vectors(line)
    if demand.connection is Connection.BALANCED:
        return balanced
    if demand.connection is Connection.PAIR:
        used = [demand.lines]
    else:
        a, b, common = demand.lines
        used = [(a, common), (b, common)]
    found = np.zeros(2)
    for pair in used:
        for own, vector in pairs.items():
            if set(pair) == set(own):
                found += vector
    return float(found[0]), float(found[1])


@dataclass
class Garage:
    site: Installation
    demands: list[Demand]


@st.composite
def garages(draw: st.DrawFn) -> Garage:
    """A supply and up to two boards, up to five cars; every minimum fits."""
    demands = []
    boards = draw(st.integers(0, 2))
    for i in range(draw(st.integers(1, 5))):
        kind = draw(st.sampled_from(KINDS))
        lines = tuple(draw(st.permutations(LINES)))
        demands.append(
            Demand(
                id=f"c{i}",
                circuit=f"b{draw(st.integers(0, boards))}",
                lines=lines[:2] if kind is Connection.PAIR else lines,
                connection=kind,
                max_a=draw(st.sampled_from([10.0, 16.0, 32.0])),
                weight=draw(st.sampled_from([1.0, 1.0, 2.0])),
            )
        )
    room = st.integers(0, 300).map(lambda tenths: tenths / 10)
    least = 6 * math.sqrt(3) * len(demands)
    circuits = tuple(
        Circuit(
            id=f"b{k}", fed_from="b0" if k else None, limit_a={line: least + draw(room) for line in LINES}
        )
        for k in range(boards + 1)
    )
    return Garage(Installation(system=System.IT_230, circuits=circuits), demands)


def solve(problem: Any) -> None:
    """Exactly, or with looser tolerances, but never with an answer that the solver itself doubts."""
    for tolerance in (1e-9, 1e-8, 1e-7, 1e-6):
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Solution may be inaccurate")  # the status is looked at
            problem.solve(
                solver=cp.CLARABEL, tol_gap_abs=tolerance, tol_gap_rel=tolerance, tol_feas=tolerance
            )
        if problem.status == cp.OPTIMAL:
            return
    raise AssertionError(problem.status)


def leximin_by_cones(garage: Garage) -> dict[str, float]:
    """Raise the lowest level; who cannot be above it with all others there stays; and so on."""
    demands = garage.demands
    n = len(demands)
    x, level = cp.Variable(n), cp.Variable()
    limits = [x >= [d.min_a for d in demands], x <= [d.max_a for d in demands]]
    for circuit in garage.site.circuits:
        below = [d.circuit == circuit.id or circuit.fed_from is None for d in demands]
        for line, limit in circuit.limit_a.items():
            plane = np.array(
                [on_line(d, line) if there else (0.0, 0.0) for d, there in zip(demands, below, strict=True)]
            )
            limits.append(cp.norm(plane.T @ x) <= limit)
    weights = np.array([d.weight for d in demands])
    fixed: dict[int, float] = {}
    while len(fixed) < n:
        free = [i for i in range(n) if i not in fixed]
        kept = [x[i] >= amperes - 1e-5 for i, amperes in fixed.items()]
        solve(cp.Problem(cp.Maximize(level), limits + kept + [x[i] >= weights[i] * level for i in free]))
        lowest = float(level.value)
        stuck = []
        for i in free:
            floor = [x[j] >= weights[j] * lowest - 1e-5 for j in free]
            solve(cp.Problem(cp.Maximize(x[i]), limits + kept + floor))
            if float(x.value[i]) <= weights[i] * lowest + 2e-3:
                stuck.append(i)
        assert stuck
        fixed |= {i: max(demands[i].min_a, weights[i] * lowest) for i in stuck}
    return {d.id: fixed[i] for i, d in enumerate(demands)}


@settings(max_examples=20, deadline=None)
@given(garages())
def test_shares_in_a_delta_are_those_of_an_independent_solver(garage: Garage) -> None:
    found = allocate(garage.site, garage.demands)
    assert dict(found.offers_a) == pytest.approx(leximin_by_cones(garage), abs=0.01)


def test_the_cone_is_the_handbook_formula() -> None:
    """Pairs of 16 A and 6 A and a balanced 10 A on L1, as sqrt(a² + b² + ab + c² + sqrt(3) c (a + b))."""
    pairs, balanced = vectors(L1)
    x, y = 16 * np.array(pairs[L1, L2]) + 6 * np.array(pairs[L3, L1]) + 10 * np.array(balanced)
    expected = math.sqrt(16**2 + 6**2 + 16 * 6 + 10**2 + math.sqrt(3) * 10 * (16 + 6))
    assert math.hypot(x, y) == pytest.approx(expected)
