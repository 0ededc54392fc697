"""DISCOUNT read and written, and whom it is for; what it takes off is in test_reductions."""

from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.component import GUEST, Dimension, Payer
from csms.tariffs.components.discount import Discount

FULL = {
    "type": "DISCOUNT",
    "name": "Night shift",
    "percent": Decimal("12.5"),
    "dimensions": ["ENERGY", "TIME"],
    "members": ["van-1"],
    "groups": ["bakery"],
}


def test_read_and_written() -> None:
    discount = Discount.read(FULL, "at")
    assert discount.write() == FULL
    assert discount.acts_on(Dimension.TIME)
    assert not discount.acts_on(Dimension.FLAT)
    assert not discount.acts_on(None)
    short = {"type": "DISCOUNT", "name": "All", "percent": 10}
    assert Discount.read(short, "at").write() == short
    assert Discount.read(short, "at").acts_on(Dimension.FLAT)


def test_whom_it_is_for() -> None:
    whom = Discount.read(FULL, "at").whom
    assert whom.has(Payer(member_id="van-1"))
    assert whom.has(Payer(member_id="flat-7", group_ids=frozenset({"bakery", "x"})))
    assert not whom.has(Payer(member_id="flat-7"))
    assert not whom.has(GUEST)
    assert Discount.read({"type": "DISCOUNT", "name": "All", "percent": 10}, "at").whom.has(GUEST)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"percent": 0}, "at.percent: 0 takes nothing off"),
        ({"percent": 101}, "at.percent: must be a percentage"),
        ({"dimensions": ["POWER"]}, "at.dimensions[0]: must be one of"),
        ({"members": []}, "at.members: must have at least 1"),
    ],
)
def test_what_is_wrong_is_named(change: dict[str, object], problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        Discount.read({**FULL, **change}, "at")
    assert str(caught.value).startswith(problem)
