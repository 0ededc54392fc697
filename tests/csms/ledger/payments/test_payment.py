"""Payments, and which documents they leave open."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from csms.errors import InvalidInput
from csms.ledger.payments.payment import Issued, Owed, Payment, check_payment, open_items

PAYMENT = Payment(
    id="pay_1",
    site_id="yard",
    member_id="a",
    paid_on=date(2026, 2, 20),
    amount_minor=1000,
    currency="NOK",
    reference=" bank 1 ",
    created_at=datetime(2026, 2, 20, tzinfo=UTC),
)
TODAY = date(2026, 4, 10)


def issued(month: int, gross_minor: int) -> Issued:
    return Issued(
        id=f"st_{month}",
        number=f"Y-{month}",
        issued_on=date(2026, month, 3),
        due_on=date(2026, month, 17),
        gross_minor=gross_minor,
    )


def test_payments_settle_the_oldest_first() -> None:
    documents = [issued(2, 500), issued(4, 300), issued(3, 400)]
    items = open_items(documents, 650, TODAY)
    assert [(i.number, i.open_minor, i.age_days) for i in items] == [("Y-3", 350, 24), ("Y-4", 300, -7)]
    assert sum(item.open_minor for item in items) == 650
    assert open_items(documents, 0, TODAY) == open_items(documents, -5, TODAY) == ()
    owed = Owed(member_id="a", name="Flat a", currency="NOK", balance_minor=650, items=items)
    assert owed.oldest_days == 24
    assert replace(owed, items=()).oldest_days is None


def test_a_document_without_a_due_date_is_due_when_issued_and_credits_are_none() -> None:
    items = open_items([replace(issued(3, 400), due_on=None), issued(4, -100)], 300, TODAY)
    assert [(item.number, item.open_minor, item.age_days) for item in items] == [("Y-3", 300, 38)]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"currency": "EUR"}, "currency"),
        ({"currency": "XXY"}, "currency"),
        ({"amount_minor": 0}, "amount"),
        ({"amount_minor": -(10**15)}, "amount"),
        ({"reference": " "}, "reference"),
        ({"id": "NO"}, "id"),
    ],
)
def test_what_is_wrong_is_named(wrong: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_payment(replace(PAYMENT, **wrong), "NOK")  # type: ignore[arg-type]
    assert refused.value.field == field
    assert check_payment(PAYMENT, "NOK").reference == "bank 1"
