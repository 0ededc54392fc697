"""How figures of a bill are written."""

from decimal import Decimal
from fractions import Fraction

import pytest

from csms.tariffs.bill import exact_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Decimal("0.250"), "0.250"),
        (Decimal("1E+2"), "100"),
        (Fraction("0.00126"), "0.00126"),
        (Fraction(1, 3), "0.3333333333"),
    ],
)
def test_prices_as_text(value: Decimal | Fraction, text: str) -> None:
    assert exact_text(value) == text
