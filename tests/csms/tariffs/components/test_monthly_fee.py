"""MONTHLY_FEE read and written; what it comes to is in test_monthly."""

from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.components.monthly_fee import MonthlyFee


@pytest.mark.parametrize("more", [{}, {"vat": Decimal("25.0")}])
def test_read_and_written(more: dict[str, object]) -> None:
    document = {"type": "MONTHLY_FEE", "name": "Place", "amount": Decimal("6.50"), **more}
    assert MonthlyFee.read(document, "at").write() == document


def test_what_is_wrong_is_named() -> None:
    with pytest.raises(InvalidInput, match=r"at\.vat: must be a percentage from 0 to 100, is 125"):
        MonthlyFee.read({"type": "MONTHLY_FEE", "name": "Place", "amount": 1, "vat": 125}, "at")
    with pytest.raises(InvalidInput, match=r"at\.amount: missing"):
        MonthlyFee.read({"type": "MONTHLY_FEE", "name": "Place"}, "at")
