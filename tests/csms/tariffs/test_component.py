"""Blocks, and the list of kinds."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.tariffs.component import Dimension, round_up
from csms.tariffs.components import COMPONENTS, KINDS


def test_every_dimension_has_its_kind() -> None:
    assert set(KINDS) == set(Dimension)
    assert len(COMPONENTS) == len(Dimension)


@pytest.mark.parametrize(
    ("used", "step", "billed"),
    [(0, 300, 0), (1, 300, 300), (300, 300, 300), (301, 300, 600), (7, 0, 7), (Fraction(1152, 10), 1, 116)],
)
def test_round_up(used: int | Fraction, step: int, billed: int) -> None:
    """115.2 Wh at 1 Wh are 116: OCPI PriceComponent class, step_size notes."""
    assert round_up(Fraction(used), step) == billed


@given(st.fractions(0, 10**6), st.integers(1, 10**4))
def test_a_block_is_the_lowest_that_covers(used: Fraction, step: int) -> None:
    billed = round_up(used, step)
    assert used <= billed < used + step
    assert billed % step == 0
