"""Invoices and their keys. The month of a small garage is invented; its figures were worked out by hand."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.errors import InvalidInput
from csms.ledger.period import Month
from csms.ledger.pool import Key, Pool, check_pool, of_month, weights_of
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.money import Currency, Money, share

EXAMPLE = json.loads(Path(__file__).with_name("shared_cost_example.json").read_text())
EUR = Currency("EUR")
NOW = datetime(2026, 2, 2, tzinfo=UTC)
TERMS = Terms(issuer=Issuer(name="Yard", tax_id="DE1"), first_month="2026-01")
POOL = Pool(
    id="grid",
    site_id="yard",
    name="Grid fee",
    amount_minor=10000,
    vat_minor=2500,
    vat_percent=Decimal(25),
    currency="EUR",
    period_start=date(2026, 1, 1),
    period_end=date(2026, 2, 1),
    key=Key.KWH,
    created_at=NOW,
)


@pytest.mark.parametrize("name", list(EXAMPLE["shares_cents"]))
def test_the_garage_is_shared_to_the_cent(name: str) -> None:
    energy = {who: int(Decimal(kwh) * 1000) for who, kwh in EXAMPLE["inputs"]["kwh"].items()}
    flats = {who: 1 for who in energy if who != "GUEST"}
    key = {"kWh": Key.KWH, "equal per flat": Key.EQUAL}[EXAMPLE["inputs"]["keys"][name]]
    weights = weights_of(
        key, energy_wh=energy, spaces=flats, space_days={}, peak_wh={}, association="association"
    )
    amount = Money.from_decimal(Decimal(EXAMPLE["pools_ex_vat"][name]), EUR)
    shares = {who: part.minor for who, part in share(amount, weights).items()}
    assert shares == EXAMPLE["shares_cents"][name]
    assert sum(shares.values()) == amount.minor


def test_an_invoice_over_months_is_split_by_days_to_the_cent() -> None:
    quarter = replace(POOL, period_end=date(2026, 4, 1))
    parts = [of_month(quarter, quarter.amount_minor, Month(2026, m)) for m in (1, 2, 3, 4)]
    # 90 days: 31, 28, 31; 3444.4, 3111.1, 3444.4, the missing cent to the first of equal remainders.
    assert parts == [3445, 3111, 3444, 0]
    assert [of_month(quarter, -quarter.amount_minor, Month(2026, m)) for m in (1, 2, 3)] == [
        -3445,
        -3111,
        -3444,
    ]


@settings(max_examples=50, deadline=None)
@given(
    amount=st.integers(-(10**9), 10**9),
    start=st.dates(date(2026, 1, 1), date(2027, 1, 1)),
    days=st.integers(1, 400),
)
def test_months_of_an_invoice_sum_to_it(amount: int, start: date, days: int) -> None:
    pool = replace(POOL, period_start=start, period_end=date.fromordinal(start.toordinal() + days))
    assert sum(of_month(pool, amount, month) for month in pool.months()) == amount


def test_nobody_to_pay_leaves_it_to_the_association() -> None:
    for key in Key:
        found = weights_of(key, energy_wh={"a": 0}, spaces={}, space_days={}, peak_wh={}, association="us")
        assert found == {"us": 1}


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"id": "No"}, "id"),
        ({"currency": "XYZ"}, "currency"),
        ({"currency": "NOK"}, "currency"),
        ({"amount_minor": 10**15}, "amount"),
        ({"period_end": date(2026, 1, 1)}, "period_end"),
        ({"period_end": date(2029, 1, 1)}, "period_end"),
        ({"period_start": date(2025, 12, 31)}, "period_start"),
        ({"vat_percent": None}, "vat_percent"),
        ({"vat_percent": Decimal(-1)}, "vat_percent"),
        ({"vat_minor": 2000}, "vat"),
        ({"name": " "}, "name"),
    ],
)
def test_what_is_wrong_is_named(wrong: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_pool(replace(POOL, **wrong), TERMS, "EUR")  # type: ignore[arg-type]
    assert refused.value.field == field


def test_who_is_not_registered_needs_no_rate() -> None:
    terms = replace(TERMS, issuer=Issuer(name="Yard"))
    assert check_pool(replace(POOL, vat_percent=None), terms, "EUR").gross_minor == 12500
