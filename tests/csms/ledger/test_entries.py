"""What a run books."""

from dataclasses import replace
from decimal import Decimal

from csms.ledger.drafting import draft
from csms.ledger.entries import Account, EntryKind, about_of, booked_of, mirrored, of_draft
from csms.ledger.inputs import Correction, RunInputs
from csms.ledger.statement import LineKind


def test_a_members_rows_sum_to_its_statement_and_every_invoice_is_whole(inputs: RunInputs) -> None:
    made = draft(inputs)
    entries = of_draft(made)
    for statement in made.statements:
        mine = [entry for entry in entries if entry.member_id == statement.recipient.member_id]
        assert sum(entry.amount_minor for entry in mine) == statement.gross_minor
        assert {entry.statement_id for entry in mine} == {statement.id}
    shares = [entry for entry in entries if entry.reference == "grid"]
    assert sum(entry.amount_minor for entry in shares) == 1001
    assert {entry.kind for entry in entries if entry.account is Account.GUESTS} == {
        EntryKind.SHARE,
        EntryKind.INCOME,
    }


def test_what_is_booked_is_what_is_due(inputs: RunInputs) -> None:
    made = draft(inputs)
    booked = booked_of(of_draft(made), "2026-01")
    assert booked == {charge.about: charge.net_minor for charge in made.charges}
    assert booked_of(of_draft(made), "2026-02") == {}


def test_a_correction_is_booked_for_the_month_that_it_is_about(inputs: RunInputs) -> None:
    late = Correction(
        account="b",
        period="2025-12",
        of=LineKind.POOL_SHARE,
        reference="old",
        name="Old",
        percent=Decimal(25),
        net_minor=77,
    )
    entries = of_draft(draft(replace(inputs, corrections=(late,))))
    ((about, minor),) = booked_of(entries, "2025-12").items()
    assert (about.account, about.kind, about.reference, minor) == ("b", LineKind.POOL_SHARE, "old", 77)


def test_a_credit_note_books_the_mirror(inputs: RunInputs) -> None:
    entries = [entry for entry in of_draft(draft(inputs)) if entry.member_id == "a"]
    back = mirrored(entries, "st_x")
    assert sum(e.amount_minor for e in (*entries, *back)) == 0
    assert {entry.statement_id for entry in back} == {"st_x"}
    charged = [entry for entry in entries if entry.kind is EntryKind.CHARGE]
    assert [about_of(e) for e in back if e.kind is EntryKind.CHARGE] == [about_of(e) for e in charged]
