"""What every price document keeps to."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.document import in_one_piece, price_of
from csms.tariffs.market.series import MarketPrice

START = datetime(2026, 1, 14, 23, tzinfo=UTC)


def price(hour: int, hours: int = 1) -> MarketPrice:
    start = START + timedelta(hours=hour)
    return MarketPrice(start=start, end=start + timedelta(hours=hours), per_mwh=Decimal(hour))


def test_in_order_and_whole() -> None:
    assert in_one_piece([price(1), price(0), price(2, 3)], "x") == (price(0), price(1), price(2, 3))
    for prices, problem in (
        ([price(0), price(2)], "x: no price from 2026-01-15T00:00:00Z to 2026-01-15T01:00:00Z"),
        ([price(0, 2), price(1)], "x: two prices for 2026-01-15T00:00:00Z"),
        ([], "x: holds no price"),
    ):
        with pytest.raises(InvalidInput) as caught:
            in_one_piece(prices, "x")
        assert str(caught.value).startswith(problem)


@pytest.mark.parametrize(
    ("text", "per_kwh", "expected"),
    [
        (" 80.00 ", False, "80.00"),
        ("0.080005", True, "80.005"),
        ("-500", False, "-500"),
        ("1000000", False, "1000000"),
    ],
)
def test_prices_are_exact(text: str, per_kwh: bool, expected: str) -> None:
    assert f"{price_of(text, 'x', per_kwh=per_kwh):f}" == expected


@pytest.mark.parametrize(
    "text", ["1000000.01", "Infinity", "1e400000", "1" * 30, "0.00000001", "0x10", "1_0_"]
)
def test_what_is_no_price(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"^x: "):
        price_of(text, "x")
