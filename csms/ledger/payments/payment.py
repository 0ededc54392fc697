"""What a payment is, and which documents are still open after all payments."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from csms.errors import InvalidInput
from csms.ledger.pool import LARGEST_MINOR
from csms.money import Currency
from csms.sites.model import check_id, check_name


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """Money from a member; negative is money paid back. `reference` is the bank's, once per site."""

    id: str
    site_id: str
    member_id: str
    paid_on: date
    amount_minor: int
    currency: str
    reference: str
    note: str = ""
    created_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenItem:
    """What is still to be paid of a document; `age_days` since it was due, negative while it is not."""

    number: str
    statement_id: str
    issued_on: date
    due_on: date
    amount_minor: int
    open_minor: int
    age_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Owed:
    """A member's account. `items` are the open documents, the oldest first; they sum to `balance_minor`
    when it is above zero. A balance below zero is the member's."""

    member_id: str
    name: str
    currency: str
    balance_minor: int
    items: tuple[OpenItem, ...]

    @property
    def oldest_days(self) -> int | None:
        """Days since the oldest open document was due; None: nothing is."""
        return max((item.age_days for item in self.items), default=None)


def check_payment(payment: Payment, currency: str) -> Payment:
    """`payment` in its final form for a site that bills in `currency`; InvalidInput names the field."""
    check_id("id", payment.id)
    if Currency(payment.currency).code != currency:
        raise InvalidInput(
            "currency",
            f"is {payment.currency}, but the site is billed in {currency}; book what the bank gave",
        )
    if not payment.amount_minor:
        raise InvalidInput("amount", "must not be zero; a payment back is negative")
    if abs(payment.amount_minor) > LARGEST_MINOR:
        raise InvalidInput("amount", "is larger than any payment")
    note = payment.note.strip()
    return replace(
        payment,
        reference=check_name("reference", payment.reference),
        note=check_name("note", note, 254) if note else "",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """What of a document the open items need; `due_on` None counts as due when issued."""

    id: str
    number: str
    issued_on: date
    due_on: date | None
    gross_minor: int


def open_items(documents: Sequence[Issued], balance_minor: int, today: date) -> tuple[OpenItem, ...]:
    """The newest documents that together make the balance: payments settle the oldest first."""
    left, found = balance_minor, list[OpenItem]()
    for document in sorted(documents, key=lambda each: (each.issued_on, each.number), reverse=True):
        if left <= 0:
            break
        if document.gross_minor <= 0:
            continue
        part = min(left, document.gross_minor)
        left -= part
        due = document.due_on or document.issued_on
        found.append(
            OpenItem(
                number=document.number,
                statement_id=document.id,
                issued_on=document.issued_on,
                due_on=due,
                amount_minor=document.gross_minor,
                open_minor=part,
                age_days=(today - due).days,
            )
        )
    return tuple(reversed(found))
