"""A credit note mirrors its statement and names it."""

from datetime import date

from csms.ledger.credit import credit_note
from csms.ledger.drafting import draft
from csms.ledger.inputs import RunInputs
from csms.ledger.proof import vat
from csms.ledger.statement import PaymentLine, StatementKind


def test_a_credit_note_has_the_amounts_with_the_other_sign(inputs: RunInputs) -> None:
    original = draft(inputs).statements[0]
    paid = PaymentLine(at=date(2026, 2, 20), amount_minor=250)
    note = credit_note(
        original,
        series="YC",
        sequence=4,
        issued_on=date(2026, 3, 1),
        opening_minor=original.gross_minor,
        payments=(paid,),
        notes=("The card was lent.",),
    )
    assert note.kind is StatementKind.CREDIT_NOTE
    assert note.number == "YC-00004"
    assert note.corrects is not None
    assert (note.corrects.number, note.corrects.issued_on) == (original.number, original.issued_on)
    assert note.gross_minor == -original.gross_minor == note.net_minor + note.vat_minor
    assert [line.net_minor for line in note.lines] == [-line.net_minor for line in original.lines]
    assert [line.quantity for line in note.lines] == [-line.quantity for line in original.lines]
    assert [line.unit_price for line in note.lines] == [line.unit_price for line in original.lines]
    assert note.balance.closing_minor == -250
    assert (note.sessions, note.due_on, note.notes) == ((), None, ("The card was lent.",))
    assert not vat([original, note]).failed
