"""Payments and balances by their service, on both databases."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from tests.csms.ledger.small_yard import SITE, SmallYard


def paying(**more: Any) -> dict[str, Any]:
    values: dict[str, Any] = {
        "site_id": SITE,
        "member_id": "a",
        "paid_on": date(2026, 2, 20),
        "amount_minor": 1000,
        "currency": "NOK",
        "reference": "bank 7",
    }
    return values | more


async def test_a_part_is_paid_and_the_rest_grows_old(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    payments = small.ledger.payments
    made = await payments.create(**paying())
    assert await payments.get(made.id) == made
    assert (await payments.list(site_id=SITE, member_id="a")).items == (made,)
    small.at(datetime(2026, 3, 1, 11, tzinfo=UTC))
    (owed,) = await payments.owed(SITE, "a")
    assert (owed.balance_minor, owed.oldest_days) == (1750, 12)
    (item,) = owed.items
    assert (item.number, item.amount_minor, item.open_minor) == ("Y-00001", 2750, 1750)
    both = await payments.owed(SITE)
    assert [each.member_id for each in both] == ["a", "b"]
    await payments.create(**paying(reference="bank 8", amount_minor=5000))
    (owed,) = await payments.owed(SITE, "a")
    assert (owed.balance_minor, owed.items) == (-3250, ())


async def test_an_import_that_comes_twice_is_refused_and_books_nothing(small: SmallYard) -> None:
    first = await small.ledger.payments.create(**paying())
    with pytest.raises(Conflict, match=f"reference 'bank 7' is booked already, as payment {first.id}"):
        await small.ledger.payments.create(**paying(amount_minor=999, member_id="b"))
    (owed,) = await small.ledger.payments.owed(SITE)
    assert (owed.member_id, owed.balance_minor) == ("a", -1000)


async def test_a_wrong_payment_names_its_field_and_books_nothing(small: SmallYard) -> None:
    for field, wrong in (
        ("currency", {"currency": "EUR"}),
        ("currency", {"currency": "kroner"}),
        ("amount", {"amount_minor": 0}),
        ("reference", {"reference": " "}),
        ("member_id", {"member_id": "nobody"}),
        ("site_id", {"site_id": "moon"}),
    ):
        with pytest.raises(InvalidInput) as refused:
            await small.ledger.payments.create(**paying(**wrong))
        assert refused.value.field == field
    assert await small.ledger.payments.owed(SITE) == ()


async def test_what_is_not_there(small: SmallYard) -> None:
    with pytest.raises(NotFound):
        await small.ledger.payments.get("pay_none")
    with pytest.raises(NotFound):
        await small.ledger.payments.owed("moon")
