import pytest

from csms.power.sharing.currents import Path
from csms.power.sharing.rounding import down, hand_out, up


@pytest.mark.parametrize(
    ("amperes", "step", "below", "above"),
    [(10.67, 1.0, 10.0, 11.0), (16.0, 1.0, 16.0, 16.0), (15.9999999, 1.0, 16.0, 16.0),
     (10.67, 0.1, 10.6, 10.7), (0.3, 0.1, 0.3, 0.3), (7.123, 0.0, 7.123, 7.123)],
)  # fmt: skip
def test_steps(amperes: float, step: float, below: float, above: float) -> None:
    assert down(amperes, step) == below
    assert up(amperes, step) == above


def shared(
    head: float, amperes: list[float], maximums: list[float], weights: list[float], step: float
) -> list[float]:
    paths: list[Path] = [((0, 1.0),)] * len(amperes)
    usage: list[complex] = [sum(amperes)]
    hand_out([head], usage, paths, amperes, maximums, weights, [step] * len(amperes))
    assert usage[0] == pytest.approx(sum(amperes))
    return amperes


def test_the_left_over_goes_to_the_worst_off() -> None:
    # 32 A for three: 10.67 each is 10, 10, 10 with 2 A left, one for each of the first two.
    assert shared(32.0, [10.0, 10.0, 10.0], [32.0] * 3, [1.0] * 3, 1.0) == [11.0, 11.0, 10.0]
    assert shared(30.0, [7.0, 20.0], [32.0] * 2, [1.0] * 2, 1.0) == [10.0, 20.0]


def test_a_maximum_and_a_limit_hold() -> None:
    assert shared(40.0, [10.0, 10.0], [11.0, 12.0], [1.0] * 2, 1.0) == [11.0, 12.0]
    assert shared(20.5, [10.0, 10.0], [32.0] * 2, [1.0] * 2, 1.0) == [10.0, 10.0]
    assert shared(20.5, [10.0, 10.0], [32.0] * 2, [1.0] * 2, 0.1) == [10.3, 10.2]


def test_a_weight_counts_in_who_is_worst_off() -> None:
    assert shared(31.0, [10.0, 20.0], [32.0] * 2, [1.0, 2.0], 1.0) == [11.0, 20.0]
    assert shared(30.0, [10.0, 19.0], [32.0] * 2, [1.0, 2.0], 1.0) == [10.0, 20.0]


def test_a_car_without_steps_is_left_alone() -> None:
    paths: list[Path] = [((0, 1.0),), ((0, 1.0),)]
    amperes = [10.5, 10.0]
    hand_out([23.0], [20.5], paths, amperes, [32.0] * 2, [1.0] * 2, [0.0, 1.0])
    assert amperes == [10.5, 12.0]
