"""SPOT read, written, and what it makes of a market's price."""

from decimal import Decimal
from fractions import Fraction

import pytest

from csms.errors import InvalidInput
from csms.tariffs.components.spot import Spot

FULL = {
    "type": "SPOT",
    "feed": "mill",
    "factor": Decimal("1.05"),
    "markup_per_kwh": Decimal("0.02"),
    "fees": [{"name": "Grid", "per_kwh": Decimal("0.07")}],
    "elements": [0, 2],
}


def test_read_and_written() -> None:
    spot = Spot.read(FULL, "at")
    assert spot.write() == FULL
    assert [spot.prices(i) for i in range(3)] == [True, False, True]
    least = Spot.read({"type": "SPOT", "feed": "mill"}, "at")
    assert (least.factor, least.markup_per_kwh, least.fees) == (Decimal(1), Decimal(0), ())
    assert least.prices(7)


def test_a_price_per_mwh_becomes_one_per_kwh() -> None:
    spot = Spot.read(FULL, "at")
    assert spot.price_per_kwh(Decimal(80)) == Fraction("0.084")
    assert spot.price_per_kwh(Decimal("-1.20")) == Fraction("-0.00126")


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"feed": None}, "at.feed: missing"),
        ({"factor": 0}, "at.factor: 0 leaves nothing"),
        ({"factor": -1}, "at.factor: must not be negative"),
        ({"markup_per_kwh": Decimal("-0.1")}, "at.markup_per_kwh: must not be negative"),
        ({"fees": [{"name": "Grid"}]}, "at.fees[0].per_kwh: missing"),
        ({"elements": []}, "at.elements: must have at least 1"),
        ({"markup": 1}, "at.markup: not a field here"),
    ],
)
def test_what_is_wrong_is_named(change: dict[str, object], problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        Spot.read({**FULL, **change}, "at")
    assert str(caught.value).startswith(problem)
