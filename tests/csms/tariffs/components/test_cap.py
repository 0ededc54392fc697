"""CAP read and written; what it takes off is in test_reductions and test_monthly."""

from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.components.cap import Cap


@pytest.mark.parametrize("more", [{}, {"groups": ["residents"], "members": ["flat-12", "flat-7"]}])
def test_read_and_written(more: dict[str, object]) -> None:
    document = {"type": "CAP", "name": "At most", "amount": Decimal("40.00"), "per": "MONTH", **more}
    assert Cap.read(document, "at").write() == document


def test_what_is_wrong_is_named() -> None:
    with pytest.raises(InvalidInput, match=r"at\.per: must be one of SESSION, MONTH, is 'YEAR'"):
        Cap.read({"type": "CAP", "name": "At most", "amount": 40, "per": "YEAR"}, "at")
