"""EN 16931-1:2017, 6.4: each rule has an invoice that breaks it. The samples' sums are worked by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from csms.documents.invoice_rules import faults
from csms.ledger.statement import Statement, VatCategory
from tests.csms.documents import samples

SOUND = {
    "shares": samples.statement(),
    "spot": samples.spot_statement(),
    "not registered": samples.unregistered(),
    "credit note": samples.credit_note(samples.spot_statement()),
    "credit note, not registered": samples.credit_note(samples.unregistered()),
}


@pytest.mark.parametrize("statement", SOUND.values(), ids=SOUND.keys())
def test_sound_invoices_break_none(statement: Statement) -> None:
    assert faults(statement) == []


def spoiled_line(**changes: object) -> Statement:
    statement = samples.spot_statement()
    return replace(statement, lines=(replace(statement.lines[0], **changes), *statement.lines[1:]))  # type: ignore[arg-type]


def spoiled_vat(**changes: object) -> Statement:
    statement = samples.spot_statement()
    return replace(statement, vat=(statement.vat[0], replace(statement.vat[1], **changes)))  # type: ignore[arg-type]


BASE = samples.spot_statement()
MIXED = replace(
    BASE,
    lines=(
        *BASE.lines[:3],
        replace(BASE.lines[3], vat_category=VatCategory.NOT_SUBJECT, vat_percent=None),
    ),
)
TAXED_AND_NOT_SUBJECT = replace(
    samples.unregistered(),
    vat=(replace(samples.unregistered().vat[0], vat_minor=100),),
    vat_minor=100,
    gross_minor=24953,
)
BROKEN = [
    ("BR-02", replace(BASE, number="")),
    ("BR-06", replace(BASE, issuer=replace(samples.YARD, name=""))),
    ("BR-07", replace(BASE, recipient=replace(BASE.recipient, name=""))),
    ("BR-09", replace(BASE, issuer=replace(samples.YARD, country=""))),
    ("BR-16", replace(BASE, lines=(), vat=(), net_minor=0, vat_minor=0, gross_minor=0)),
    ("BR-27", spoiled_line(quantity=Decimal("-182.437"), unit_price=Decimal("-0.24431287"))),
    ("BR-55", replace(samples.credit_note(BASE), corrects=None)),
    ("BR-DEC-12", replace(BASE, currency="KWD")),
    ("BR-S-02", replace(BASE, issuer=replace(samples.YARD, tax_id=None))),
    ("BR-S-05", spoiled_line(vat_percent=Decimal(0))),
    ("BR-S-08", spoiled_vat(base_minor=4299)),
    ("BR-Z-05", spoiled_line(vat_category=VatCategory.ZERO)),
    ("BR-E-09", TAXED_AND_NOT_SUBJECT),
    ("BR-O-05", spoiled_line(vat_percent=None)),
    ("BR-O-11", MIXED),
    ("BT-131", spoiled_line(net_minor=4458)),
    ("BR-CO-10", replace(BASE, net_minor=4799)),
    ("BR-CO-14", replace(BASE, vat_minor=853)),
    ("BR-CO-15", replace(BASE, gross_minor=5651)),
    # 19 % of 42.98 is 8.1662: 8.17, and neither 8.16 nor the sum of each line's VAT rounded.
    ("BR-CO-17", spoiled_vat(vat_minor=816)),
    ("BR-CO-18", replace(BASE, vat=BASE.vat[:1])),
]


@pytest.mark.parametrize(("rule", "statement"), BROKEN, ids=[rule for rule, _ in BROKEN])
def test_a_broken_rule_is_named(rule: str, statement: Statement) -> None:
    assert rule in {name for name, _ in faults(statement)}


def test_vat_twice_for_one_rate_is_seen() -> None:
    twice = replace(BASE, vat=(*BASE.vat, BASE.vat[0]))
    assert ("BR-CO-18", "a category and rate stand twice among the sums of VAT") in faults(twice)


def test_half_a_cent_goes_away_from_zero_on_both_sides() -> None:
    line = replace(BASE.lines[0], quantity=Decimal(1), unit_price=Decimal("0.125"), net_minor=13)
    assert not [fault for fault in faults(replace(BASE, lines=(line,))) if fault[0] == "BT-131"]
    back = replace(line, quantity=Decimal(-1), net_minor=-13)
    assert not [fault for fault in faults(replace(BASE, lines=(back,))) if fault[0] == "BT-131"]
