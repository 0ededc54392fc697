"""Max-min programming with the production solver against scipy's, made another way: random sites of one
circuit or two, limits on unbalance that bite."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from csms.power.sharing.cars import Cars
from csms.power.sharing.max_min import MaxMin

LINES = ((0,), (1,), (2,), (0, 1), (1, 2), (0, 1, 2))


@st.composite
def problems(draw: st.DrawFn) -> tuple[list[float], Cars, list[tuple[int, int, float]]]:
    """Rows 0, 1, 2 are the supply's lines, 3, 4, 5 a board's; cars of the board load both."""
    count = draw(st.integers(1, 8))
    amperes = st.integers(60, 1200).map(lambda tenths: tenths / 10)
    paths = []
    for _ in range(count):
        lines = draw(st.sampled_from(LINES))
        board = draw(st.booleans())
        rows = [*lines, *(line + 3 for line in lines if board)]
        paths.append(tuple((row, 1.0 + 0j) for row in rows))
    heads = [draw(amperes) for _ in range(6)]
    minimums = [draw(st.sampled_from([0.0, 6.0])) for _ in range(count)]
    cars = Cars(
        paths,
        minimums,
        [m + draw(st.integers(0, 26)) for m in minimums],
        [draw(st.sampled_from([0.5, 1.0, 3.0])) for _ in range(count)],
        [0.0] * count,
    )
    differences = []
    for circuit in ((0, 1, 2), (3, 4, 5)):
        if draw(st.booleans()):
            most = draw(st.integers(0, 300)) / 10
            differences += [(high, low, most) for high, low in permutations(circuit, 2)]
    return heads, cars, differences


def by_scipy(heads: list[float], cars: Cars, differences: list[tuple[int, int, float]]) -> list[float] | None:
    """The same by trying for each car whether it can be above the common level; None: nothing fits."""
    n = len(cars)
    on = np.zeros((6, n + 1))
    for i, path in enumerate(cars.paths):
        for row, value in path:
            on[row, i] = value.real
    a = np.vstack([on, *(on[high] - on[low] for high, low, _ in differences)])
    b = np.array([*heads, *(most for _, _, most in differences)])
    fixed: dict[int, float] = {}

    def solve(objective: int, floor: float | None) -> float | None:
        rows, room = [a], [b + 1e-7]
        for i in range(n):
            if i not in fixed:
                row = np.zeros((1, n + 1))
                row[0, i] = -1.0
                row[0, n] = cars.weights[i] if floor is None else 0.0
                rows.append(row)
                room.append(np.array([0.0 if floor is None else 1e-6 - floor * cars.weights[i]]))
        bounds = [
            (max(cars.minimums[i], fixed[i] - 1e-6), max(cars.minimums[i], fixed[i]))
            if i in fixed
            else (cars.minimums[i], cars.maximums[i])
            for i in range(n)
        ]
        cost = np.zeros(n + 1)
        cost[objective] = -1.0
        found = linprog(cost, A_ub=np.vstack(rows), b_ub=np.concatenate(room), bounds=[*bounds, (0, None)])
        assert found.status in (0, 2), found.message
        return None if found.status == 2 else float(found.x[objective])

    while len(fixed) < n:
        level = solve(n, None)
        if level is None:
            assert not fixed
            return None
        stuck = {}
        for i in range(n):
            if i not in fixed:
                highest = solve(i, level)
                assert highest is not None
                if highest <= (level + 1e-4) * cars.weights[i]:
                    stuck[i] = max(cars.minimums[i], min(level * cars.weights[i], cars.maximums[i]))
        assert stuck
        fixed |= stuck
    return [fixed[i] for i in range(n)]


@settings(max_examples=150, deadline=None)
@given(problems())
def test_shares_are_the_leximin_of_an_independent_solver(
    problem: tuple[list[float], Cars, list[tuple[int, int, float]]],
) -> None:
    heads, cars, differences = problem
    expected = by_scipy(heads, cars, differences)
    programme = MaxMin(heads, [0.0] * 6, cars, differences)
    everybody = range(len(cars))
    assert programme.fits(everybody) == (expected is not None)
    assume(expected is not None)
    assert programme.shares(everybody) == pytest.approx(expected, abs=0.01)


def test_what_is_taken_counts_on_both_sides() -> None:
    paths = [((0, 1.0),), ((1, 1.0),)]
    cars = Cars(paths, [6.0, 6.0], [32.0, 32.0], [1.0, 1.0], [0.0, 0.0])
    differences = [(high, low, 10.0) for high, low in permutations(range(3), 2)]
    # Line 3 has 8 A that we cannot change: the others may have 18 A, of which line 1 has 5 A already.
    programme = MaxMin([63.0] * 3, [5.0, 0.0, 8.0], cars, differences)
    assert programme.shares([0, 1]) == pytest.approx([13.0, 18.0])
    assert programme.shares([1]) == pytest.approx([0.0, 15.0])


def test_ranks_are_served_one_after_the_other() -> None:
    paths = [((0, 1.0),), ((0, 1.0),), ((1, 1.0),)]
    cars = Cars(paths, [6.0] * 3, [32.0] * 3, [1.0] * 3, [0.0] * 3, [1, 0, 2])
    differences = [(high, low, 20.0) for high, low in permutations(range(2), 2)]
    programme = MaxMin([40.0, 16.0], [0.0, 0.0], cars, differences)
    # Line 2 can have 16 A, so line 1 has 36 A: 6 A of them are the other car's.
    assert programme.shares([0, 1, 2]) == pytest.approx([6.0, 30.0, 16.0])
