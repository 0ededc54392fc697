"""The document that `phaseyard price` prints."""

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import InvalidInput
from csms.tariffs.quote import price_document

Make = Callable[..., dict[str, object]]
Quote = Callable[..., dict[str, Any]]


def test_the_whole_answer(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document(
        (None, ("ENERGY", Decimal("0.25"), 1, 10), ("TIME", 1, 0, 20)),
        max_price={"excl_vat": 1, "incl_vat": Decimal("1.1")},
    )
    answer = quote(doc, ("CHARGING", 10, Decimal("1.2345")))
    assert json.loads(json.dumps(answer)) == {
        "currency": "EUR",
        "total_excl_vat": "0.48",
        "total_incl_vat": "0.54",
        "limit_applied": None,
        "lines": [
            {
                "dimension": "ENERGY",
                "phase": "SESSION",
                "quantity": "1.235",
                "unit": "kWh",
                "price": "0.25",
                "vat_percent": 10.0,
                "cost_excl_vat": "0.30875",
                "cost_incl_vat": "0.339625",
                "reason": "elements[0] is the first with ENERGY that applies, without conditions; "
                "0.0005 kWh added to bill whole blocks of 1 Wh",
                "start": "2024-01-15T11:00:00Z",
            },
            {
                "dimension": "TIME",
                "phase": "SESSION",
                "quantity": "10",
                "unit": "min",
                "price": "1",
                "vat_percent": 20.0,
                "cost_excl_vat": "0.166667",
                "cost_incl_vat": "0.2",
                "reason": "elements[0] is the first with TIME that applies, without conditions",
                "start": "2024-01-15T11:00:00Z",
            },
        ],
        "vat": [
            {"vat_percent": 10.0, "net": "0.31", "vat": "0.03"},
            {"vat_percent": 20.0, "net": "0.17", "vat": "0.03"},
        ],
        "notes": [],
    }


@pytest.mark.parametrize(
    ("currency", "total"), [("EUR", "2.35"), ("JPY", "2"), ("KWD", "2.346")], ids=["2", "0", "3"]
)
def test_totals_have_the_currency_s_decimals(
    tariff_document: Make, quote: Quote, currency: str, total: str
) -> None:
    doc = tariff_document((None, ("ENERGY", Decimal("2.3456"), 1, 0)), currency=currency)
    answer = quote(doc, ("CHARGING", 60, 1))
    assert (answer["currency"], answer["total_excl_vat"], answer["total_incl_vat"]) == (
        currency,
        total,
        total,
    )


def test_unknown_vat_is_null_and_said(tariff_document: Make, quote: Quote) -> None:
    """OCPI "First hour free energy example": without VAT in the tariff no total with VAT."""
    answer = quote(tariff_document((None, ("ENERGY", 1))), ("CHARGING", 60, 1))
    assert answer["total_incl_vat"] is None
    assert answer["lines"][0]["cost_incl_vat"] is None
    assert (answer["vat"], answer["notes"]) == (
        [],
        ["the tariff names no VAT: the total with VAT is not known"],
    )


def test_taxes_inside_the_price(tariff_document: Make, quote: Quote) -> None:
    known = tariff_document((None, ("ENERGY", 1, 1, 25)), tax_included="YES")
    answer = quote(known, ("CHARGING", 60, 10))
    assert (answer["total_excl_vat"], answer["total_incl_vat"], answer["notes"]) == ("8.00", "10.00", [])
    hidden = tariff_document((None, ("ENERGY", 1)), tax_included="YES")
    (note,) = quote(hidden, ("CHARGING", 60, 10))["notes"]
    assert note == "prices hold taxes of a rate that is not told: both totals are with taxes"
    none = quote(tariff_document((None, ("ENERGY", 1)), tax_included="N/A"), ("CHARGING", 60, 10))
    assert (none["total_incl_vat"], none["notes"]) == ("10.00", [])


def test_a_tariff_out_of_its_time_is_priced_and_said(tariff_document: Make, quote: Quote) -> None:
    doc = tariff_document((None, ("ENERGY", 1, 1, 0)), end_date_time="2024-01-15T11:00:00Z")
    assert quote(doc, ("CHARGING", 60, 1))["notes"] == ["the tariff is not valid at the session's start"]
    assert quote(doc, ("CHARGING", 600, 1), start="2024-01-15T11:59:59")["notes"] == []


def test_errors_say_which_document(tariff_document: Make) -> None:
    good = {
        "start_local": "2024-01-15T12:00:00",
        "time_zone": "UTC",
        "segments": [{"kind": "PARKING", "duration_s": 1}],
    }
    with pytest.raises(InvalidInput, match=r"^tariff\.elements\[0\]\.price_components\[0\]\.step_size: "):
        price_document(tariff_document((None, ("FLAT", 1, -1))), good)
    with pytest.raises(InvalidInput, match=r"^session\.segments: missing"):
        price_document(tariff_document((None, ("FLAT", 1))), {**good, "segments": None})
