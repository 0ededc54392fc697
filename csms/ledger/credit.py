"""Credit notes: the mirror of an issued statement."""

from dataclasses import replace
from datetime import date

from csms.ledger.drafting import number_of, statement_id
from csms.ledger.statement import Balance, DocumentLink, PaymentLine, Statement, StatementKind


def credit_note(
    original: Statement,
    *,
    series: str,
    sequence: int,
    issued_on: date,
    opening_minor: int,
    payments: tuple[PaymentLine, ...] = (),
    notes: tuple[str, ...] = (),
) -> Statement:
    """The credit note over all of `original`: quantities, nets, VAT and totals with the other sign.

    Prices stay as they were (BR-27). What it is about, sessions and days, is the original's and not
    shown again.
    """
    number = number_of(series, sequence)
    lines = tuple(
        replace(line, quantity=-line.quantity, net_minor=-line.net_minor) for line in original.lines
    )
    vat = tuple(replace(t, base_minor=-t.base_minor, vat_minor=-t.vat_minor) for t in original.vat)
    paid = sum(payment.amount_minor for payment in payments)
    return replace(
        original,
        id=statement_id(original.site_id, number),
        kind=StatementKind.CREDIT_NOTE,
        series=series,
        sequence=sequence,
        number=number,
        issued_on=issued_on,
        due_on=None,
        lines=lines,
        vat=vat,
        net_minor=-original.net_minor,
        vat_minor=-original.vat_minor,
        gross_minor=-original.gross_minor,
        balance=Balance(
            opening_minor=opening_minor,
            charged_minor=-original.gross_minor,
            paid_minor=paid,
            closing_minor=opening_minor - original.gross_minor - paid,
        ),
        payments=payments,
        sessions=(),
        days=(),
        energy_wh=0,
        adds_up=(),
        estimates=(),
        explained=(),
        corrects=DocumentLink(original.number, original.issued_on),
        replaces=None,
        notes=notes,
    )
