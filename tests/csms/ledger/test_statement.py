"""The document as values: a whole one survives its canonical text."""

import dataclasses
from datetime import date
from decimal import Decimal

import pytest

from csms.ledger import canonical
from csms.ledger.statement import (
    Balance,
    Estimate,
    Explained,
    Issuer,
    PaymentLine,
    Recipient,
    Statement,
    StatementKind,
    Sum,
    SumLine,
    VatCategory,
    VatTotal,
)

STATEMENT = Statement(
    id="st_1",
    kind=StatementKind.STATEMENT,
    series="WY",
    sequence=1,
    number="WY-2026-0001",
    issued_on=date(2026, 2, 3),
    due_on=date(2026, 2, 17),
    site_id="weavers-yard",
    site_name="Weavers' Yard",
    time_zone="Europe/Oslo",
    language="en",
    period_start=date(2026, 1, 1),
    period_end=date(2026, 2, 1),
    issuer=Issuer(name="Weavers' Yard housing association"),
    recipient=Recipient(member_id="flat-12", name="Flat 12", address=("Mill Lane 1",)),
    currency="NOK",
    lines=(),
    vat=(VatTotal(category=VatCategory.STANDARD, percent=Decimal("25.0"), base_minor=24853, vat_minor=6213),),
    net_minor=24853,
    vat_minor=6213,
    gross_minor=31066,
    balance=Balance(opening_minor=0, charged_minor=31066, paid_minor=1000, closing_minor=30066),
    payments=(PaymentLine(at=date(2026, 2, 1), amount_minor=1000, reference="bank 7"),),
    adds_up=(SumLine(Sum.MAIN_METER, Decimal("1000.0"), "kWh"),),
    estimates=(Estimate(reason="boundary", energy_wh=12_400, session_id=7),),
    explained=(Explained("losses", {"percent": "3.76", "rule": "kwh"}),),
)


def test_a_statement_survives_its_text_and_back_again_gives_the_same_bytes() -> None:
    text = canonical.write(STATEMENT)
    again = canonical.read(Statement, text)
    assert again == STATEMENT
    assert canonical.write(again) == text


def test_a_statement_cannot_be_edited() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        STATEMENT.net_minor = 0  # type: ignore[misc]
