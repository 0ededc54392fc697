"""What the judge counts."""

from collections.abc import Callable

import pytest

from tools.simulation.description import Description
from tools.simulation.grid import Grid
from tools.simulation.load import Phasors

Make = Callable[..., Description]
NOTHING: Phasors = (0.0, 0.0, 0.0)


def on(current_a: float) -> Phasors:
    return (current_a, 0.0, 0.0)


def grid(make: Make) -> tuple[Grid, float]:
    described = make()
    return Grid(described, window_s=6.8), described.starts_s


def test_cars_alone_above_the_limit_are_beyond(make: Make) -> None:
    made, start = grid(make)
    made.cars_changed("supply", NOTHING, on(34.0), start + 10)
    made.cars_changed("supply", on(34.0), on(30.0), start + 30)
    made.finish(start + 100)
    (episode,) = made.episodes
    assert (episode.circuit, episode.line, episode.seconds, episode.beyond_s) == ("supply", 0, 20.0, 20.0)
    assert episode.ampere_seconds == pytest.approx(40.0)
    assert episode.highest_a == 34.0


def test_a_step_of_the_base_load_is_excused_for_the_reaction_only(make: Make) -> None:
    made, start = grid(make)
    made.cars_changed("supply", NOTHING, on(30.0), start)
    made.base_changed("supply", NOTHING, on(10.0), start + 50)
    made.cars_changed("supply", on(30.0), on(22.0), start + 60)
    made.finish(start + 100)
    (episode,) = made.episodes
    assert episode.seconds == pytest.approx(10.0)
    assert episode.beyond_s == pytest.approx(10.0 - 6.8)


def test_a_step_does_not_excuse_cars_that_were_above_before_it(make: Make) -> None:
    made, start = grid(make)
    made.cars_changed("supply", NOTHING, on(33.0), start + 10)
    made.base_changed("supply", NOTHING, on(1.0), start + 20)
    made.finish(start + 30)
    (episode,) = made.episodes
    assert (episode.seconds, episode.beyond_s) == (20.0, 20.0)


def test_cars_on_a_board_flow_through_the_supply(make: Make) -> None:
    made, start = grid(make)
    made.cars_changed("board", NOTHING, on(20.0), start)
    made.base_changed("supply", NOTHING, (5.0, 4.0, 3.0), start)
    assert made.total_a("supply") == (25.0, 4.0, 3.0)
    assert made.total_a("board") == (20.0, 0.0, 0.0)
    assert made.base_a("supply") == (5.0, 4.0, 3.0)


def test_one_and_a_half_times_the_rating_trips_within_the_hour(make: Make) -> None:
    """IEC 60898-1: 1.13 holds for an hour, 1.45 trips within it."""
    made, start = grid(make)
    made.cars_changed("supply", NOTHING, on(1.13 * 32), start)
    made.settle(start + 3600)
    assert made.trips == []
    made.cars_changed("supply", on(1.13 * 32), on(1.46 * 32), start + 3600)
    made.settle(start + 7200)
    assert len(made.trips) == 1
