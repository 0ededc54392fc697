"""Lines and VAT by EN 16931. The rules are named by their ids in the standard (from memory of its text)."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.ledger.charges import About, Charge
from csms.ledger.inputs import Correction, RunInputs
from csms.ledger.lines import category, correction_line, line_of, quantity_and_price, vat_of, vat_totals
from csms.ledger.statement import LineKind, Unit, VatCategory
from csms.money import Currency, Money, half_up

NOK, JPY = Currency("NOK"), Currency("JPY")
RATE = Decimal(25)


def charge(net_minor: int, **more: object) -> Charge:
    return Charge(
        about=About("a", LineKind.SESSIONS, "spot", RATE),
        name="Spot",
        net_minor=net_minor,
        energy_wh=12_345,
        **more,  # type: ignore[arg-type]
    )


@settings(max_examples=200, deadline=None)
@given(net=st.integers(-(10**9), 10**9), wh=st.integers(1, 10**8), currency=st.sampled_from([NOK, JPY]))
def test_quantity_times_price_is_the_net_and_no_price_is_negative(
    net: int, wh: int, currency: Currency
) -> None:
    """BR-27, and the net of a line as quantity x price."""
    quantity, price = quantity_and_price(Money(net, currency), Decimal(wh).scaleb(-3))
    assert price >= 0
    assert half_up(Fraction(quantity) * Fraction(price) * 10**currency.exponent) == net


def test_an_even_price_is_told_short() -> None:
    assert quantity_and_price(Money(-1250, NOK), Decimal(10)) == (Decimal(-10), Decimal("1.25"))
    assert quantity_and_price(Money(0, NOK), Decimal(1)) == (Decimal(1), Decimal("0.00"))


def test_a_line_of_energy_is_in_kilowatt_hours_and_others_in_pieces_or_months(inputs: RunInputs) -> None:
    line = line_of(charge(1000), 3, True, inputs)
    assert (line.number, line.quantity, line.unit) == (3, Decimal("12.345"), Unit.KWH)
    assert (line.vat_category, line.vat_percent) == (VatCategory.STANDARD, RATE)
    fee = replace(charge(1450), about=About("a", LineKind.MONTHLY_FEE, "x", None), quantity=Decimal("0.5"))
    line = line_of(fee, 1, False, inputs)
    assert (line.quantity, line.unit, line.unit_price) == (Decimal("0.5"), Unit.MONTH, Decimal("29.00"))
    assert line.vat_category is VatCategory.NOT_SUBJECT


def test_a_correction_names_its_month(inputs: RunInputs) -> None:
    correction = Correction(
        account="a",
        period="2025-12",
        of=LineKind.POOL_SHARE,
        reference="grid",
        name="Grid",
        percent=Decimal(0),
        net_minor=-7,
    )
    line = correction_line(correction, 1, True, inputs)
    assert (line.kind, line.period, line.quantity, line.unit_price) == (
        LineKind.CORRECTION,
        "2025-12",
        Decimal(-1),
        Decimal("0.07"),
    )
    assert line.arguments == {
        "period": "2025-12",
        "of": "pool_share",
        "name": "Grid",
        "reason": "late_data",
    }
    assert line.vat_category is VatCategory.ZERO


def test_vat_is_once_per_rate_on_the_sum(inputs: RunInputs) -> None:
    """BR-CO-17 and BR-S-09: two lines of 0.10 at 25 % make 0.05, not twice 0.03."""
    lines = [line_of(charge(10), n, True, inputs) for n in (1, 2)]
    other = replace(lines[0], vat_percent=Decimal(12))
    totals = vat_totals([*lines, other])
    assert [(t.percent, t.base_minor, t.vat_minor) for t in totals] == [
        (Decimal(12), 10, 1),
        (Decimal(25), 20, 5),
    ]
    assert vat_totals([replace(lines[0], vat_percent=None)]) == ()


@pytest.mark.parametrize(("base", "vat"), [(2, 1), (-2, -1), (1, 0), (24853, 6213)])
def test_vat_is_rounded_half_up_and_a_credit_mirrors_it(base: int, vat: int) -> None:
    assert vat_of(base, RATE) == vat


def test_categories() -> None:
    assert category(None, False) is VatCategory.NOT_SUBJECT
    assert category(Decimal(0), True) is VatCategory.ZERO
