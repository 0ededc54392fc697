"""A problem as arrays: cuts that keep a phasor sum short, and what equal cars like."""

import math
from collections.abc import Callable

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.installation import LINES, Circuit, Installation, System
from csms.power.planner.layout import SPREAD, lay_out
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.sharing.currents import MissingLine, Network

NETWORK = Network(
    Installation(
        system=System.IT_230,
        circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 32.0)),),
    )
)
L1, L2, L3 = LINES


def delta_cars() -> list[PlannedCar]:
    """A car on each pair, and one on all three lines, of a 230 V supply without neutral."""
    made = []
    for number, lines in enumerate([(L1, L2), (L2, L3), (L3, L1), (L1, L2, L3)]):
        path = NETWORK.path("main", lines)
        assert not isinstance(path, MissingLine)
        made.append(PlannedCar(id=str(number), path=path, watts_per_a=230.0, max_a=32.0, need_wh=1e5, last=1))
    return made


def delta_problem() -> Problem:
    heads = dict.fromkeys(range(3), (32.0,))
    return Problem(hours=(0.25,), heads=heads, prices=(1.0,), cars=tuple(delta_cars()))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 32), min_size=4, max_size=4))
def test_what_the_cuts_allow_no_line_carries_more_than(shares: list[float]) -> None:
    """Raised until a cut is full: no line's phasor sum is above 32 A, and one is within 1.6 % of it."""
    problem = delta_problem()
    layout = lay_out(problem)
    amps = np.array(shares)
    if amps.max() < 0.1:
        return
    amps = amps * float((layout.head[:, 0] / np.maximum(layout.weight @ amps, 1e-9)).min())
    lines = [0j, 0j, 0j]
    for car, value in zip(problem.cars, amps, strict=True):
        for row, phasor in car.path:
            lines[row] += phasor * value
    assert max(map(abs, lines)) <= 32.0 + 1e-6
    assert max(map(abs, lines)) >= 32.0 * 0.984


def test_two_cars_on_neighbouring_pairs_may_have_more_than_plain_addition_gives() -> None:
    """x A each load the shared line with sqrt(3) x: 18.475 A each fill 32 A, plain addition allows 16."""
    layout = lay_out(delta_problem())
    both = np.array([1.0, 1.0, 0.0, 0.0])
    most = float((layout.head[:, 0] / np.maximum(layout.weight @ both, 1e-9)).min())
    assert 0.984 * 32 / math.sqrt(3) <= most <= 32 / math.sqrt(3)


def test_in_the_star_there_is_one_cut_for_each_line(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    layout = lay_out(problem(car("a"), car("b", (1,))))
    assert layout.weight.tolist() == [[1.0, 0.0], [1.0, 1.0], [1.0, 0.0]]
    assert layout.head[0].tolist() == [32.0] * 8


def test_a_row_without_a_limit_is_left_out_and_one_below_nothing_is_nothing(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    heads = {0: (math.inf,) * 8, 1: (-5.0,) * 8, 2: (10.0,) * 8}
    layout = lay_out(problem(car("a"), heads=heads))
    assert layout.head[:, 0].tolist() == [0.0, 10.0]


def test_equal_cars_like_different_quarters_of_an_equally_cheap_stretch(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    """Twenty of them, with 8 quarters dear, then 16 cheap, of which each needs 2."""
    cars = [car(f"c{i}", last=24, seed=i / 20, need_wh=5_520.0) for i in range(20)]
    layout = lay_out(problem(*cars, slots=24, prices=(0.3,) * 8 + (0.1,) * 16))
    best = layout.cost.argmin(axis=1)
    assert best.min() >= 8
    assert best.max() <= 8 + SPREAD * 16
    assert len(set(best.tolist())) >= 10
    assert float(np.ptp(layout.cost[:, 8:])) < 0.001, "far less than any price"


def test_what_is_cheap_already_is_liked_early_and_so_is_everything_by_eager_cars(
    car: Callable[..., PlannedCar], problem: Callable[..., Problem]
) -> None:
    layout = lay_out(problem(car("a", seed=0.9), car("b", eager=True), prices=(0.1,) * 4 + (0.3,) * 4))
    assert layout.cost[0, :4].tolist() == sorted(layout.cost[0, :4].tolist())
    assert layout.cost[1].tolist() == sorted(layout.cost[1].tolist())
