"""Books check over issued months, on both databases."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import text, update

from csms.errors import InvalidInput, NotFound
from csms.ledger.books.service import MonthProof
from csms.ledger.proof import Check, Name, Verdict
from csms.store.tables.sessions import session
from tests.csms.ledger.small_yard import SITE, SmallYard


def check(proofs: tuple[MonthProof, ...], name: Name) -> Check:
    (proof,) = proofs
    return next(each for each in proof.checks if each.name is name)


async def test_what_was_issued_holds(small: SmallYard) -> None:
    await small.january()
    assert await small.ledger.books.check(SITE) == ()
    await small.ledger.issuing.issue(SITE, "2026-01")
    proofs = await small.ledger.books.check(SITE, "2026-01", "2026-01")
    assert [each.name for each in proofs[0].checks] == list(Name)
    assert proofs[0].holds
    assert not proofs[0].late
    assert check(proofs, Name.SAME_BYTES).figures[0].value == "4"
    assert await small.ledger.books.check(SITE, "2026-02") == ()


async def test_a_document_that_was_tampered_with_is_found(small: SmallYard) -> None:
    """Past the triggers, as somebody with the file in hand could."""
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    async with small.central.database.write() as connection:
        off = "DROP TRIGGER statement_no_update"
        postgresql = small.central.database.dialect == "postgresql"
        await connection.execute(text(off + " ON statement" if postgresql else off))
        await connection.execute(text("UPDATE statement SET body = replace(body, 'Flat a', 'Flat x')"))
    proofs = await small.ledger.books.check(SITE)
    assert not proofs[0].holds
    assert "Y-00001 is not what it was" in check(proofs, Name.SAME_BYTES).words


async def test_a_price_that_was_changed_is_found_and_what_came_late_is_said(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await small.charge("a", datetime(2026, 1, 20, 18, tzinfo=UTC), 10_000)
    proofs = await small.ledger.books.check(SITE)
    assert (proofs[0].late, proofs[0].holds) == (True, True)
    await small.pool("more", 500)
    money = check(await small.ledger.books.check(SITE), Name.MONEY)
    assert money.verdict is Verdict.NOT_MEASURED
    assert "came late and is corrected by the next statements" in money.words
    async with small.central.database.write() as connection:
        await connection.execute(update(session).where(session.c.id == 1).values(cost_excl_minor=1))
    price = check(await small.ledger.books.check(SITE), Name.PRICE)
    assert price.verdict is Verdict.FAIL
    assert "session 1: booked 0.01, by the stored prices 20.00" in price.words


async def test_a_period_that_makes_no_sense_is_named(small: SmallYard) -> None:
    for first, last, field in (("x", None, "from"), (None, "y", "to"), ("2026-02", "2026-01", "to")):
        with pytest.raises(InvalidInput) as refused:
            await small.ledger.books.check(SITE, first, last)
        assert refused.value.field == field
    with pytest.raises(NotFound):
        await small.ledger.books.check("moon")
