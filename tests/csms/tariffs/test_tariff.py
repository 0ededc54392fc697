"""What a tariff may be."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.component import Dimension, PriceComponent
from csms.tariffs.conditions import ReservationRestriction, Restrictions
from csms.tariffs.tariff import Element, PriceLimit, Tariff

ENERGY = PriceComponent(dimension=Dimension.ENERGY, price=Decimal("0.25"))
FLAT = PriceComponent(dimension=Dimension.FLAT, price=Decimal(1), vat_percent=Decimal(20))
JULY = datetime(2026, 7, 1, tzinfo=UTC)
TARIFF = Tariff(currency=Currency("EUR"), elements=(Element(components=(ENERGY,)),))


def test_validity_includes_its_start_and_not_its_end() -> None:
    valid = replace(TARIFF, valid_from=JULY, valid_until=JULY + timedelta(days=31))
    moments = [JULY - timedelta(seconds=1), JULY, JULY + timedelta(days=31)]
    assert [valid.valid_at(at) for at in moments] == [False, True, False]
    assert TARIFF.valid_at(JULY)


def test_an_element_has_each_dimension_once() -> None:
    with pytest.raises(InvalidInput, match=r"price_components\[2\]\.type: ENERGY occurs twice"):
        Element(components=(ENERGY, FLAT, ENERGY))
    with pytest.raises(InvalidInput, match="at least one"):
        Element(components=())


def test_a_reservation_costs_time_or_a_fee() -> None:
    reserved = Restrictions(reservation=ReservationRestriction.RESERVATION)
    assert Element(components=(FLAT,), restrictions=reserved).component(Dimension.FLAT) is FLAT
    with pytest.raises(InvalidInput, match=r"price_components\[0\]\.type: .*FLAT and TIME only"):
        Element(components=(ENERGY,), restrictions=reserved)


def test_limits_must_leave_room() -> None:
    with pytest.raises(InvalidInput, match="max_price: 1 is below the min_price of 2"):
        replace(TARIFF, min_price=PriceLimit(excl=Decimal(2)), max_price=PriceLimit(excl=Decimal(1)))
    with pytest.raises(InvalidInput, match="with VAT"):
        replace(
            TARIFF,
            min_price=PriceLimit(excl=Decimal(1), incl=Decimal(3)),
            max_price=PriceLimit(excl=Decimal(1), incl=Decimal(2)),
        )
    with pytest.raises(InvalidInput, match="below the one without"):
        PriceLimit(excl=Decimal(2), incl=Decimal(1))
    with pytest.raises(InvalidInput, match="end_date_time"):
        replace(TARIFF, valid_from=JULY, valid_until=JULY)
    with pytest.raises(InvalidInput, match="elements"):
        replace(TARIFF, elements=())


def test_whether_it_states_vat() -> None:
    assert not TARIFF.states_vat
    assert replace(TARIFF, elements=(Element(components=(ENERGY, FLAT)),)).states_vat


def test_the_actual_price_replaces_the_announced_one() -> None:
    both = replace(TARIFF, elements=(Element(components=(ENERGY, FLAT)), Element(components=(ENERGY,))))
    actual = both.with_price(Dimension.ENERGY, Decimal("0.22"))
    assert [component.price for component in actual.components] == [
        Decimal("0.22"),
        Decimal(1),
        Decimal("0.22"),
    ]
