"""Progressive filling against max-min programming with an independent solver (scipy's HiGHS)."""

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.sharing.currents import MissingLine, Network, Path
from csms.power.sharing.filling import AT_MAXIMUM, fill

L1, L2, L3 = LINES


@dataclass
class Problem:
    network: Network
    paths: list[Path]
    minimums: list[float]
    maximums: list[float]
    weights: list[float]


@st.composite
def problems(draw: st.DrawFn, system: System) -> Problem:
    """A tree of up to seven circuits and ten cars, whose minimums fit."""
    amperes = st.integers(0, 400).map(lambda tenths: tenths / 10)
    count = draw(st.integers(1, 7))
    cars = draw(st.integers(1, 10))
    feeds = [None, *(f"c{draw(st.integers(0, i))}" for i in range(count - 1))]
    places = [draw(st.integers(0, count - 1)) for _ in range(cars)]
    fewest = 2 if system.is_delta else 1
    lines = [tuple(draw(st.permutations(LINES)))[: draw(st.integers(fewest, 3))] for _ in range(cars)]
    minimums = [draw(st.sampled_from([0.0, 6.0, 6.0, 8.0, 12.0])) for _ in range(cars)]
    below = [
        {
            line: sum(m for p, ls, m in zip(places, lines, minimums, strict=True) if line in ls)
            for line in LINES
        }
    ] * count
    circuits = tuple(
        Circuit(
            id=f"c{i}",
            fed_from=feed,
            limit_a={line: below[i][line] + draw(amperes) for line in LINES},
            cap_w=sum(below[i].values()) * 230 + draw(amperes) * 230 if draw(st.booleans()) else None,
        )
        for i, feed in enumerate(feeds)
    )
    network = Network(Installation(system=system, circuits=circuits))
    paths: list[Path] = []
    for place, used in zip(places, lines, strict=True):
        path = network.path(f"c{place}", used)
        assert not isinstance(path, MissingLine)
        paths.append(path)
    return Problem(
        network,
        paths,
        minimums,
        [m + draw(amperes) for m in minimums],
        [draw(st.sampled_from([0.5, 1.0, 1.0, 2.0, 3.0])) for _ in range(cars)],
    )


def directions(values: Iterable[complex]) -> list[complex]:
    """Normals of the half-planes that stand for "the phasor sum is no longer than the limit".

    |z| <= h when Re(z * conj(d)) <= h for every unit d between the phasors that z is made of. Half
    a degree apart they leave out less than 0.001 A of 100 A.
    """
    units = [value / abs(value) for value in values]
    first = units[0]
    angles = [cmath.phase(unit / first) for unit in units]
    low, high = min(angles), max(angles)
    steps = round((high - low) / math.radians(0.5))
    return [first * cmath.rect(1.0, low + (high - low) * k / max(steps, 1)) for k in range(steps + 1)]


def leximin_by_lp(problem: Problem) -> list[float]:
    """Max-min programming: raise the lowest level, fix who cannot go above it, and so on."""
    heads = problem.network.heads()
    rows = sorted({row for path in problem.paths for row, _ in path})
    n = len(problem.paths)
    limits: list[np.ndarray] = []
    room: list[float] = []
    for row in rows:
        there = {i: complex(value) for i, path in enumerate(problem.paths) for at, value in path if at == row}
        for direction in directions(there.values()):
            half_plane = np.zeros(n + 1)
            for i, value in there.items():
                half_plane[i] = (value * direction.conjugate()).real
            limits.append(half_plane)
            room.append(heads[row])
    fixed: dict[int, float] = {}

    def solve(objective: int, floor: float | None) -> float:
        """The largest variable `objective` (n: the common level) with active levels at least `floor`."""
        a, b = [*limits], [*room]
        for i in range(n):
            if i not in fixed:
                line = np.zeros(n + 1)
                line[i] = -1.0
                line[n] = problem.weights[i] if floor is None else 0.0
                a.append(line)
                b.append(0.0 if floor is None else -floor * problem.weights[i] + 1e-6)
        cost = np.zeros(n + 1)
        cost[objective] = -1.0
        bounds = [
            (fixed[i] - 1e-6, fixed[i]) if i in fixed else (problem.minimums[i], problem.maximums[i] + 1e-9)
            for i in range(n)
        ]
        found = linprog(cost, A_ub=np.array(a), b_ub=np.array(b) + 1e-8, bounds=[*bounds, (0, None)])
        assert found.status == 0, found.message
        return float(found.x[objective])

    while len(fixed) < n:
        level = solve(n, None)
        stuck = [
            (i, max(problem.minimums[i], level * problem.weights[i]))
            for i in range(n)
            if i not in fixed and solve(i, level) <= (level + 1e-4) * problem.weights[i]
        ]
        assert stuck
        fixed.update(stuck)
    return [fixed[i] for i in range(n)]


def filled(problem: Problem) -> list[float]:
    usage = problem.network.usage()
    for path, amperes in zip(problem.paths, problem.minimums, strict=True):
        for row, value in path:
            usage[row] += amperes * value
    heads = problem.network.heads()
    return fill(heads, usage, problem.paths, problem.minimums, problem.maximums, problem.weights).amperes


@settings(max_examples=150, deadline=None)
@given(problems(System.TN_400))
def test_star_filling_is_the_leximin_of_an_independent_solver(problem: Problem) -> None:
    assert filled(problem) == pytest.approx(leximin_by_lp(problem), abs=0.01)


@settings(max_examples=30, deadline=None)
@given(problems(System.IT_230))
def test_delta_filling_is_the_leximin_of_an_independent_solver(problem: Problem) -> None:
    assert filled(problem) == pytest.approx(leximin_by_lp(problem), abs=0.01)


def star(limit_a: float, *lines: tuple[str, ...]) -> tuple[Network, list[Path]]:
    site = Installation(
        system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, limit_a)),)
    )
    network = Network(site)
    paths = []
    for names in lines:
        path = network.path("main", tuple(line for line in LINES if line in names))
        assert not isinstance(path, MissingLine)
        paths.append(path)
    return network, paths


def test_a_car_rises_only_above_its_own_minimum() -> None:
    """Counting the second car as rising from the start would stop the first at 6 A."""
    network, paths = star(20.0, ("L1",), ("L1",))
    found = fill(network.heads(), [18.0, 0, 0, 0], paths, [6.0, 12.0], [32.0, 32.0], [1.0, 1.0])
    assert found.amperes == pytest.approx([8.0, 12.0])


def test_it_says_what_stopped_each_car() -> None:
    network, paths = star(32.0, ("L1", "L2", "L3"), ("L2",), ("L3",))
    found = fill(network.heads(), [6.0, 12.0, 12.0, 0], paths, [6.0] * 3, [10.0, 40.0, 15.0], [1.0] * 3)
    assert found.amperes == pytest.approx([10.0, 22.0, 15.0])
    assert [row if row == AT_MAXIMUM else network.row_name(row) for row in found.stopped_by] == [
        AT_MAXIMUM,
        ("main", L2),
        AT_MAXIMUM,
    ]


def test_nobody_asks() -> None:
    network, _ = star(32.0)
    assert fill(network.heads(), network.usage(), [], [], [], []).amperes == []
