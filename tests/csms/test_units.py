"""Units at the edges."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.units import floor_tenth, from_milli, milli


@pytest.mark.parametrize(("value", "expected"), [(16, 16000), (6.2505, 6251), (Decimal("0.0005"), 1), (0, 0)])
def test_milli_rounds_half_up(value: float | Decimal, expected: int) -> None:
    assert milli(value) == expected


def test_from_milli_keeps_what_is_not_known() -> None:
    assert from_milli(None) is None
    assert from_milli(6250) == 6.25


# OCPP 1.6 schema of chargingSchedulePeriod: limit is a multiple of 0.1; a limit is rounded down so
# that it is never more than was decided (15.942 A -> 15.9 A is OCPP 1.6 section 3.13.7 in amperes).
@pytest.mark.parametrize(
    ("value", "expected"), [(15.942, 15.9), (8.696, 8.6), (6.0, 6.0), (0.3, 0.3), (21.4, 21.4)]
)
def test_floor_tenth(value: float, expected: float) -> None:
    assert floor_tenth(value) == expected


@given(st.floats(min_value=0, max_value=100))
def test_floor_tenth_never_rises_beyond_the_last_millionth(value: float) -> None:
    assert floor_tenth(value) <= value + 1e-6
    assert floor_tenth(value) > value - 0.1 - 1e-6
