from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from api.web import month_entries
from csms.app import Central
from csms.errors import InvalidInput
from csms.money import Currency
from tests.api.web.visitor import Visitor

on_sqlite = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What the services do on both databases is tested with them."""
MONTH = {"month": "2026-10"}
ISSUER = {
    **MONTH,
    "name": "Weavers' Yard",
    "address_lines": "Mill Lane 3\n\n1234 Weaverby ",
    "country": "no",
    "tax_id": "",
    "payment_to": "NO9386011117947",
    "first_month": "2026-10",
    "due_days": "21",
    "language": "nb",
    "pays": "shares",
}
INVOICE = {
    **MONTH,
    "name": "Grid",
    "supplier": "Fjord supply",
    "invoice": "77",
    "amount": "1 250,00",
    "vat": "312,50",
    "period_start": "2026-10-01",
    "period_end": "2026-10-31",
    "key": "equal",
}


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1234.5", "1234.5"),
        ("1 234,50", "1234.50"),
        ("1.234,50", "1234.50"),
        ("1,234.50", "1234.50"),
        ("1'234.50", "1234.50"),
        ("1,234,567", "1234567"),
        ("-12,5", "-12.5"),
        ("7", "7"),
    ],
)
def test_numbers_as_people_type_them(text: str, number: str) -> None:
    assert month_entries.decimal("amount", text) == Decimal(number)


@pytest.mark.parametrize("text", ["", "abc", "1e5", "NaN", "12,3,4.5.6x", "∞"])
def test_what_is_no_number_names_its_field(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"amount: .* is not a number"):
        month_entries.decimal("amount", text)


def test_amounts_are_not_rounded_behind_ones_back() -> None:
    assert month_entries.money("vat", "12,5", Currency("EUR")) == 1250
    with pytest.raises(InvalidInput, match=r"vat: '12.345' has more decimals than EUR has"):
        month_entries.money("vat", "12.345", Currency("EUR"))
    with pytest.raises(InvalidInput, match=r"due_days: '1.5' is not a whole number"):
        month_entries.whole("due_days", "1.5")


def test_days_and_moments_are_the_sites() -> None:
    assert month_entries.day("period_start", "2026-10-01") == date(2026, 10, 1)
    at = month_entries.moment("at", "2026-11-01T00:00", "Europe/Oslo")
    assert at.astimezone(UTC) == datetime(2026, 10, 31, 23, tzinfo=UTC)
    with pytest.raises(InvalidInput, match=r"^d: "):
        month_entries.day("d", "1.10.26")
    with pytest.raises(InvalidInput, match=r"^d: "):
        month_entries.moment("d", "noon", "UTC")


@on_sqlite
async def test_who_issues_is_entered_and_shown_and_changed(
    forewoman: Visitor, yard: dict[str, Any], central: Central
) -> None:
    asked = await forewoman.get("/month/weavers-yard")
    assert "Enter this first" in asked.text
    done = await forewoman.send("/month/weavers-yard/terms", **ISSUER)
    assert "Kept: who issues, and how." in done.text
    assert "not registered for VAT" in done.text
    terms = await central.ledger.billing.terms("weavers-yard")
    assert terms.issuer.address == ("Mill Lane 3", "1234 Weaverby")
    assert (terms.issuer.country, terms.due_days, terms.language) == ("NO", 21, "nb")
    assert not terms.members_pay_sessions
    await forewoman.send(
        "/month/weavers-yard/terms", **{**ISSUER, "tax_id": "NO123456789MVA", "pays": "sessions"}
    )
    changed = await central.ledger.billing.terms("weavers-yard")
    assert changed.registered
    assert changed.members_pay_sessions


WRONG = {
    ("language", "fi"): "Not done: language: &#39;fi&#39; is no language of ours",
    ("first_month", "October"): "Not done: first_month: must be a year and a month",
    ("due_days", "soon"): "Not done: due_days: &#39;soon&#39; is not a number",
    ("country", "Norway"): "Not done: issuer.country",
}


@on_sqlite
async def test_a_wrong_entry_is_said_with_its_field(forewoman: Visitor, yard: dict[str, Any]) -> None:
    for (field, value), says in WRONG.items():
        done = await forewoman.send("/month/weavers-yard/terms", **{**ISSUER, field: value})
        assert says in done.text


@on_sqlite
async def test_an_invoice_is_entered_and_removed(
    forewoman: Visitor, yard: dict[str, Any], central: Central
) -> None:
    await forewoman.send("/month/weavers-yard/terms", **ISSUER)
    done = await forewoman.send("/month/weavers-yard/invoices/enter", **INVOICE)
    assert "The invoice Grid is entered." in done.text
    (pool,) = (await central.ledger.pools.list(site_id="weavers-yard")).items
    assert (pool.amount_minor, pool.vat_minor) == (125_000, 31_250)
    assert (pool.period_start, pool.period_end) == (date(2026, 10, 1), date(2026, 11, 1))
    assert "1250.00" in done.text
    done = await forewoman.send("/month/weavers-yard/invoices/remove", **MONTH, pool_id=pool.id)
    assert "The invoice is removed." in done.text
    done = await forewoman.send("/month/weavers-yard/invoices/remove", **MONTH, pool_id=pool.id)
    assert "Not done: there is no pool" in done.text
    done = await forewoman.send("/month/weavers-yard/invoices/enter", **{**INVOICE, "key": "by mood"})
    assert "Not done: key: &#39;by mood&#39; is none of kwh" in done.text


@on_sqlite
async def test_a_register_of_the_main_meter_is_entered(
    forewoman: Visitor, yard: dict[str, Any], central: Central
) -> None:
    await forewoman.send("/month/weavers-yard/terms", **ISSUER)
    reading = {**MONTH, "serial": "EV-1", "at": "2026-11-01T00:00", "register_kwh": "51 383,675"}
    done = await forewoman.send("/month/weavers-yard/meter/enter", **reading)
    assert "The register is entered." in done.text
    assert "51383.675" in done.text
    (register,) = (await central.ledger.pools.list_registers(site_id="weavers-yard")).items
    assert (register.register_wh, register.at) == (51_383_675, datetime(2026, 10, 31, 23, tzinfo=UTC))
    done = await forewoman.send("/month/weavers-yard/meter/enter", **{**reading, "register_kwh": "1.2345"})
    assert "Not done: register_kwh: has more than three decimals" in done.text


@on_sqlite
async def test_who_may_only_look_changes_nothing(onlooker: Visitor, yard: dict[str, Any]) -> None:
    for path, fields in (("terms", ISSUER), ("invoices/enter", INVOICE)):
        refused = await onlooker.send(f"/month/weavers-yard/{path}", **fields)
        assert refused.status_code == 403
    assert "Enter this first" not in (await onlooker.get("/month/weavers-yard")).text
