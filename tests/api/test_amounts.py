"""Amounts as decimal text."""

import pytest

from api.amounts import minor_of, text_of
from csms.errors import InvalidInput


def test_amounts_go_in_and_out_without_rounding() -> None:
    assert minor_of("amount", "1249.5", "NOK") == 124950
    assert minor_of("amount", "-0.05", "EUR") == -5
    assert minor_of("amount", "12", "JPY") == 12
    assert text_of(124950, "NOK") == "1249.50"


def test_too_many_decimals_and_unknown_currencies_are_named() -> None:
    with pytest.raises(InvalidInput, match=r"amount: 0.005 has more decimals than NOK, which has 2"):
        minor_of("amount", "0.005", "NOK")
    with pytest.raises(InvalidInput, match="currency"):
        minor_of("amount", "1", "XXY")
