"""Slices of time become prices of slots; gaps and overlaps are refused with their place."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.power.planner.prices import Prices, PriceSlice, check_prices, per_slot
from csms.power.planner.slots import slots_from

NOON = datetime(2026, 11, 2, 12, 0, tzinfo=UTC)


def hour(start: float, price: str, hours: float = 1.0) -> PriceSlice:
    """`start` in hours after noon."""
    begin = NOON + timedelta(hours=start)
    return PriceSlice(begin, begin + timedelta(hours=hours), Decimal(price))


def test_a_slot_costs_the_mean_of_what_it_covers() -> None:
    prices = Prices("EUR", (hour(0, "0.30", 0.35), hour(0.35, "0.10")))
    found = per_slot(slots_from(NOON, 4), prices)
    assert found.per_kwh[0] == Decimal("0.30")
    assert found.per_kwh[1] == pytest.approx(Decimal("0.18"))  # 6 minutes of 0.30, 9 of 0.10
    assert found.per_kwh[2:] == (Decimal("0.10"), Decimal("0.10"))
    assert found.known_until == NOON + timedelta(hours=1)


def test_unknown_hours_cost_as_much_as_the_dearest_known() -> None:
    found = per_slot(slots_from(NOON, 12), Prices("EUR", (hour(0, "0.10"), hour(1, "0.40"))))
    assert found.per_kwh[8:] == (Decimal("0.40"),) * 4
    assert found.known_until == NOON + timedelta(hours=2)


def test_without_prices_all_hours_are_alike() -> None:
    slots = slots_from(NOON, 4)
    assert per_slot(slots, None).per_kwh == (Decimal(0),) * 4
    over = per_slot(slots, Prices("EUR", (hour(-5, "0.2"),)))
    assert (over.per_kwh, over.known_until, over.currency) == ((Decimal(0),) * 4, None, "EUR")


def test_they_may_come_in_any_order_and_be_negative() -> None:
    later, sooner = hour(1, "-0.05"), hour(0, "0.20")
    assert check_prices("EUR", [later, sooner]) == (sooner, later)


@pytest.mark.parametrize(
    ("slices", "field", "word"),
    [
        ([], "prices", "at least one"),
        ([hour(0, "0.1"), hour(2, "0.1")], "prices[1].start", "gap"),
        ([hour(0, "0.1"), hour(0.5, "0.1")], "prices[1].start", "overlaps"),
        ([hour(1, "0.1"), hour(0, "0.1", 1.5)], "prices[0].start", "overlaps"),
        ([hour(0, "0.1", 0)], "prices[0].end", "after start"),
        ([hour(0, "NaN")], "prices[0].per_kwh", "number"),
        ([hour(0, "0.1234567")], "prices[0].per_kwh", "decimals"),
        ([hour(i, "0.1") for i in range(1001)], "prices", "at most"),
    ],
)
def test_what_is_no_price_list_names_its_place(slices: list[PriceSlice], field: str, word: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_prices("EUR", slices)
    assert caught.value.field == field
    assert word in caught.value.problem


def test_the_currency_is_one() -> None:
    with pytest.raises(InvalidInput, match="currency"):
        check_prices("Kroner", [hour(0, "1")])
