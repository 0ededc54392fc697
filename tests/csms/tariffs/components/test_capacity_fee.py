"""CAPACITY_FEE read and written; what it comes to is in test_monthly."""

from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.components.capacity_fee import CapacityFee


@pytest.mark.parametrize("more", [{}, {"vat": 25}])
def test_read_and_written(more: dict[str, object]) -> None:
    document = {"type": "CAPACITY_FEE", "name": "Peak", "price_per_kw": Decimal("46.2"), **more}
    assert CapacityFee.read(document, "at").write() == document


def test_what_is_wrong_is_named() -> None:
    with pytest.raises(InvalidInput, match=r"at\.price_per_kw: must not be negative, is -1"):
        CapacityFee.read({"type": "CAPACITY_FEE", "name": "Peak", "price_per_kw": -1}, "at")
