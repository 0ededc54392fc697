"""Rows of payments: each with its entry."""

from datetime import date

from csms.ledger.payments import repository
from csms.ledger.payments.payment import Payment
from tests.csms.ledger.small_yard import SITE, START, SmallYard


async def test_a_payment_and_its_entry_go_together(small: SmallYard) -> None:
    new = Payment(
        id="pay_1",
        site_id=SITE,
        member_id="b",
        paid_on=date(2026, 1, 2),
        amount_minor=70,
        currency="NOK",
        reference="x",
        created_at=START,
    )
    async with small.central.database.write() as connection:
        await repository.lock_books(connection, SITE)
        await repository.add(connection, new)
        assert await repository.by_reference(connection, SITE, "x") == new
        assert await repository.by_reference(connection, SITE, "y") is None
        assert await repository.owed(connection, SITE, None) == [("b", "Flat b", -70)]
        assert await repository.documents(connection, SITE, None) == {}
        assert await repository.site_of_member(connection, "b") == SITE
