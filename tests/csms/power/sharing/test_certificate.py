"""The certificate must refuse what is wrong: each allocation here is wrong in one way."""

import pytest

from csms.errors import OurFault
from csms.power.sharing.certificate import check_fairness, check_limits, used
from csms.power.sharing.currents import Path

ONE_ROW: list[Path] = [((0, 1.0),), ((0, 1.0),)]


def fair(amperes: list[float], maximums: list[float], weights: list[float]) -> None:
    usage = check_limits([20.0], [], ONE_ROW, amperes)
    check_fairness([20.0], usage, ONE_ROW, amperes, [6.0, 6.0], maximums, weights)


def test_the_fair_share_passes() -> None:
    fair([10.0, 10.0], [32.0, 32.0], [1.0, 1.0])
    fair([8.0, 12.0], [8.0, 32.0], [1.0, 1.0])
    fair([20 / 3, 40 / 3], [32.0, 32.0], [1.0, 2.0])


@pytest.mark.parametrize(
    ("amperes", "what"),
    [([9.0, 11.0], "not fair to car 0"), ([11.0, 9.0], "not fair to car 1"), ([9.0, 9.0], "not fair")],
)
def test_an_unfair_share_is_refused(amperes: list[float], what: str) -> None:
    with pytest.raises(OurFault, match=what):
        fair(amperes, [32.0, 32.0], [1.0, 1.0])


def test_equal_amperes_are_not_fair_to_a_double_weight() -> None:
    with pytest.raises(OurFault, match="not fair to car 1"):
        fair([10.0, 10.0], [32.0, 32.0], [1.0, 2.0])


def test_ranks_come_before_levels() -> None:
    def ranked(amperes: list[float], ranks: list[int]) -> None:
        usage = check_limits([20.0], [], ONE_ROW, amperes)
        check_fairness([20.0], usage, ONE_ROW, amperes, [6.0, 6.0], [32.0, 32.0], [1.0, 1.0], ranks)

    ranked([14.0, 6.0], [0, 1])
    ranked([10.0, 10.0], [1, 1])
    with pytest.raises(OurFault, match="not fair to car 0"):
        ranked([13.0, 7.0], [0, 1])
    with pytest.raises(OurFault, match="not fair to car 1"):
        ranked([14.0, 6.0], [1, 0])
    with pytest.raises(OurFault, match="not fair to car 0"):
        ranked([13.0, 6.0], [0, 1])


def test_a_car_outside_its_range_is_refused() -> None:
    with pytest.raises(OurFault, match="outside its range"):
        fair([5.0, 15.0], [32.0, 32.0], [1.0, 1.0])
    with pytest.raises(OurFault, match="outside its range"):
        fair([14.0, 6.0], [12.0, 32.0], [1.0, 1.0])


def test_a_broken_limit_is_refused_also_in_the_delta() -> None:
    with pytest.raises(OurFault, match="breaks row 0"):
        fair([10.1, 10.0], [32.0, 32.0], [1.0, 1.0])
    with pytest.raises(OurFault, match="breaks row 0"):
        # 60 degrees apart: |11 + 11 * (0.5 + 0.866j)| = 19.05 > 19
        check_limits([19.0], [], [((0, 1.0),), ((0, 0.5 + 0.75**0.5 * 1j),)], [11.0, 11.0])


def test_what_is_reserved_counts() -> None:
    assert used(1, [5.0], ONE_ROW, [6.0, 7.0]) == [18.0]
    with pytest.raises(OurFault, match="breaks row 0"):
        check_limits([20.0], [5.0], ONE_ROW, [8.0, 8.0])
