"""Preview, issue, credit: on both databases."""

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from sqlalchemy import delete, select, text, update
from sqlalchemy.exc import DBAPIError

from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger import canonical
from csms.ledger.issuing import service
from csms.ledger.proof import Name
from csms.ledger.statement import StatementKind
from csms.ledger.stored_run import InputText, pack
from csms.ledger.terms import Late
from csms.store.tables.ledger import APPEND_ONLY, ledger_entry, statement, statement_run
from csms.store.tables.sessions import session
from csms.store.tables.system import outbox
from tests.csms.ledger.small_yard import SITE, TERMS, SmallYard

FEBRUARY = datetime(2026, 3, 3, 11, tzinfo=UTC)


async def counts(small: SmallYard) -> list[int]:
    async with small.central.database.read() as connection:
        return [
            len((await connection.execute(select(table))).all())
            for table in (statement_run, statement, ledger_entry)
        ]


async def test_a_preview_writes_nothing_and_issue_gives_what_it_showed(small: SmallYard) -> None:
    await small.january()
    preview = await small.ledger.issuing.preview(SITE, "2026-01")
    assert preview.ready
    assert await counts(small) == [0, 0, 0]
    assert [(s.recipient.member_id, s.net_minor, s.gross_minor) for s in preview.statements] == [
        ("a", 2200, 2750),
        ("b", 6601, 8251),
    ]
    run = await small.ledger.issuing.issue(SITE, "2026-01")
    assert (run.period, run.currency) == ("2026-01", "NOK")
    page = await small.ledger.issuing.statements(site_id=SITE, run_id=run.id)
    assert [(d.number, d.gross_minor) for d in sorted(page.items, key=lambda d: d.number)] == [
        ("Y-00001", 2750),
        ("Y-00002", 8251),
    ]
    document, issued = await small.ledger.issuing.statement(page.items[0].id)
    assert document.hash == canonical.digest(await small.ledger.issuing.statement_text(document.id))
    assert issued.number == document.number
    assert (await small.ledger.issuing.run(run.id)) == run
    assert (await small.ledger.issuing.runs(site_id=SITE)).items == (run,)


async def test_issuing_again_gives_the_run_that_is_there(small: SmallYard) -> None:
    await small.january()
    first = await small.ledger.issuing.issue(SITE, "2026-01")
    before = await counts(small)
    assert await small.ledger.issuing.issue(SITE, "2026-01") == first
    assert await counts(small) == before


async def test_two_who_issue_at_once_make_one_run_and_numbers_without_a_gap(small: SmallYard) -> None:
    await small.january()
    issue = small.ledger.issuing.issue
    runs = await asyncio.gather(*(issue(SITE, "2026-01") for _ in range(4)))
    assert len({run.id for run in runs}) == 1
    page = await small.ledger.issuing.statements(site_id=SITE)
    assert sorted(document.sequence for document in page.items) == [1, 2]


async def test_a_payment_that_comes_between_is_taken_into_account(
    small: SmallYard, monkeypatch: pytest.MonkeyPatch
) -> None:
    await small.january()
    paid: list[object] = []

    async def pay() -> None:
        await small.ledger.payments.create(
            site_id=SITE,
            member_id="a",
            paid_on=date(2026, 2, 1),
            amount_minor=500,
            currency="NOK",
            reference="bank 1",
        )

    loop = asyncio.get_running_loop()

    def packed(texts: Sequence[InputText]) -> tuple[bytes, str]:
        if not paid:
            paid.append(asyncio.run_coroutine_threadsafe(pay(), loop).result(30))
        return pack(texts)

    monkeypatch.setattr(service, "pack", packed)
    await small.ledger.issuing.issue(SITE, "2026-01")
    assert len(paid) == 1
    page = await small.ledger.issuing.statements(site_id=SITE, member_id="a")
    _, issued = await small.ledger.issuing.statement(page.items[0].id)
    assert issued.balance.paid_minor == 500
    assert issued.balance.closing_minor == 2750 - 500


async def test_a_run_that_breaks_off_leaves_nothing(
    small: SmallYard, monkeypatch: pytest.MonkeyPatch
) -> None:
    await small.january()

    async def broken(*_: object) -> None:
        raise RuntimeError("the power is gone")

    with monkeypatch.context() as patch:
        patch.setattr(service, "put", broken)
        with pytest.raises(RuntimeError):
            await small.ledger.issuing.issue(SITE, "2026-01")
    assert await counts(small) == [0, 0, 0]
    await small.ledger.issuing.issue(SITE, "2026-01")
    assert sorted(d.sequence for d in (await small.ledger.issuing.statements(site_id=SITE)).items) == [1, 2]


async def test_months_are_billed_in_order_when_they_are_over(small: SmallYard) -> None:
    await small.january()
    issue = small.ledger.issuing.issue
    with pytest.raises(Conflict, match="2026-01 comes first"):
        await small.ledger.issuing.preview(SITE, "2026-02")
    with pytest.raises(Conflict, match="2026-02 is not over yet"):
        await issue(SITE, "2026-02")
    with pytest.raises(InvalidInput, match="period: is before 2026-01"):
        await issue(SITE, "2025-12")
    with pytest.raises(InvalidInput, match="issued_on"):
        await issue(SITE, "2026-01", date(2026, 1, 31))
    with pytest.raises(InvalidInput, match="period"):
        await issue(SITE, "January")
    with pytest.raises(NotFound):
        await issue("moon", "2026-01")
    await issue(SITE, "2026-01", date(2026, 2, 1))
    with pytest.raises(Conflict, match="has been issued"):
        await small.ledger.issuing.preview(SITE, "2026-01")


async def test_a_run_that_does_not_prove_is_stopped_with_the_reason(small: SmallYard) -> None:
    await small.january()
    number = await small.charge("a", datetime(2026, 1, 9, 18, tzinfo=UTC), 5_000)
    async with small.central.database.write() as connection:
        wrong = update(session).where(session.c.id == number).values(cost_excl_minor=1, cost_incl_minor=1)
        await connection.execute(wrong)
    with pytest.raises(Conflict, match=rf"price: session {number}: booked 0.01, by the stored prices 10.00"):
        await small.ledger.issuing.issue(SITE, "2026-01")
    assert await counts(small) == [0, 0, 0]
    preview = await small.ledger.issuing.preview(SITE, "2026-01")
    assert [check.name for check in preview.checks if check.failed] == [Name.PRICE]
    async with small.central.database.read() as connection:
        query = select(outbox.c.body).where(outbox.c.topic == "statements.refused")
        (told,) = (await connection.execute(query)).scalars()
    assert told["period"] == "2026-01"
    assert told["reason"].startswith(f"price: session {number}")


async def test_a_session_without_a_tariff_stops_the_run(small: SmallYard) -> None:
    await small.january()
    async with small.central.database.write() as connection:
        await connection.execute(
            update(session).values(tariff_id=None, cost_excl_minor=None).where(session.c.id == 1)
        )
    with pytest.raises(Conflict, match="1 sessions have no price: session 1: it has not been priced"):
        await small.ledger.issuing.issue(SITE, "2026-01")


async def test_what_comes_late_is_a_line_of_the_next_month(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await small.charge("a", datetime(2026, 1, 20, 18, tzinfo=UTC), 10_000)
    small.at(FEBRUARY)
    await small.ledger.issuing.issue(SITE, "2026-02")
    page = await small.ledger.issuing.statements(site_id=SITE, period="2026-02")
    lines = {}
    for each in page.items:
        _, issued = await small.ledger.issuing.statement(each.id)
        lines[each.member_id] = [(line.arguments["of"], line.net_minor) for line in issued.lines]
    # 10.01 by 20, 30 and 10 of 60 kWh: 3.34, 5.00, 1.67 less 2.00, 6.01, 2.00.
    assert lines == {"a": [("pool_share", 134), ("sessions", 2000)], "b": [("pool_share", -101)]}
    proofs = await small.ledger.books.check(SITE)
    assert all(proof.holds for proof in proofs)


async def test_late_data_as_credit_notes_and_statements_anew(small: SmallYard) -> None:
    await small.ledger.billing.set_terms(SITE, replace(TERMS, late=Late.CREDIT_NOTE))
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await small.charge("a", datetime(2026, 1, 20, 18, tzinfo=UTC), 10_000)
    small.at(FEBRUARY)
    preview = await small.ledger.issuing.preview(SITE, "2026-02")
    assert [note.number for note in preview.credits] == ["YC-00001", "YC-00002"]
    assert [(s.recipient.member_id, s.net_minor) for s in preview.anew] == [("a", 4334), ("b", 6500)]
    await small.ledger.issuing.issue(SITE, "2026-02")
    page = await small.ledger.issuing.statements(site_id=SITE)
    kinds = sorted((d.number, d.kind, d.period) for d in page.items)
    assert kinds == [
        ("Y-00001", "statement", "2026-01"),
        ("Y-00002", "statement", "2026-01"),
        ("Y-00003", "statement", "2026-01"),
        ("Y-00004", "statement", "2026-01"),
        ("Y-00005", "statement", "2026-02"),
        ("Y-00006", "statement", "2026-02"),
        ("YC-00001", "credit_note", "2026-01"),
        ("YC-00002", "credit_note", "2026-01"),
    ]
    assert all(proof.holds for proof in await small.ledger.books.check(SITE))


async def test_a_credit_note_by_hand_mirrors_once_and_is_not_charged_again(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    (document,) = (await small.ledger.issuing.statements(site_id=SITE, member_id="a")).items
    note = await small.ledger.issuing.credit(document.id, "The card was lent.")
    assert (note.kind, note.number, note.gross_minor) == ("credit_note", "YC-00001", -2750)
    assert note.corrects_id == document.id
    assert await small.ledger.issuing.credit(document.id) == note
    with pytest.raises(Conflict, match="is a credit note itself"):
        await small.ledger.issuing.credit(note.id)
    with pytest.raises(NotFound):
        await small.ledger.issuing.credit("st_none")
    _, issued = await small.ledger.issuing.statement(note.id)
    assert issued.notes == ("The card was lent.",)
    assert issued.balance.closing_minor == 0
    await small.charge("b", datetime(2026, 1, 20, 18, tzinfo=UTC), 10_000)
    small.at(FEBRUARY)
    await small.ledger.issuing.issue(SITE, "2026-02")
    page = await small.ledger.issuing.statements(
        site_id=SITE, member_id="a", period="2026-02", kind=StatementKind.STATEMENT
    )
    _, issued = await small.ledger.issuing.statement(page.items[0].id)
    assert issued.lines == ()


async def test_a_site_without_terms_cannot_bill(small: SmallYard) -> None:
    async with small.central.database.write() as connection:
        await connection.execute(text("DELETE FROM billing_terms"))
    with pytest.raises(Conflict, match="has no billing terms yet"):
        await small.ledger.issuing.preview(SITE, "2026-01")


async def test_the_database_refuses_to_change_what_is_booked(small: SmallYard) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    await small.ledger.payments.create(
        site_id=SITE,
        member_id="a",
        paid_on=date(2026, 2, 1),
        amount_minor=5,
        currency="NOK",
        reference="bank 1",
    )
    tables = {table.name: table for table in statement.metadata.tables.values()}
    for name in APPEND_ONLY:
        table = tables[name]
        changes = (update(table).values(currency="EUR"), delete(table))
        for change in changes:
            with pytest.raises(DBAPIError, match="append-only"):
                async with small.central.database.write() as connection:
                    await connection.execute(change)
    assert (await counts(small))[0] == 1
