"""What is booked: one amount per row, never changed afterwards.

A statement books its lines (`charge`) and its VAT (`vat`) on the member; a payment books its negative. So
the sum of a member's rows is what it owes. The guests' and the association's rows (`share`, `income`) make
every invoice whole. `period` is the month that an amount is about, which for a correction is not the
statement's own.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from csms.ledger.charges import About, Charge
from csms.ledger.drafting import Draft
from csms.ledger.inputs import ASSOCIATION, GUESTS, Correction
from csms.ledger.statement import LineKind, Statement


class EntryKind(StrEnum):
    CHARGE = "charge"
    VAT = "vat"
    PAYMENT = "payment"
    SHARE = "share"
    INCOME = "income"


class Account(StrEnum):
    MEMBER = "member"
    GUESTS = "guests"
    ASSOCIATION = "association"


OF_MONTH = frozenset({EntryKind.CHARGE, EntryKind.SHARE, EntryKind.INCOME})
"""Kinds that say what a month costs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """`amount_minor` positive: what the member owes, what an invoice costs, what guests paid."""

    account: Account
    member_id: str | None = None
    period: str | None = None
    kind: EntryKind
    line_kind: str = ""
    reference: str = ""
    vat_category: str = ""
    vat_percent: str | None = None
    amount_minor: int
    statement_id: str | None = None
    payment_id: str | None = None


def of_draft(made: Draft) -> tuple[Entry, ...]:
    """The rows of a run: its statements', and those of guests and association."""
    period = made.inputs.period
    ids = {s.recipient.member_id: s.id for s in made.statements}
    found = [_of_charge(charge, period, ids) for charge in made.charges]
    found += [_of_correction(each, ids) for each in made.inputs.corrections]
    for statement in made.statements:
        found += vat_of(statement, period)
    return tuple(entry for entry in found if entry.amount_minor)


def vat_of(statement: Statement, period: str) -> list[Entry]:
    """The VAT rows of a document."""
    return [
        Entry(
            account=Account.MEMBER,
            member_id=statement.recipient.member_id,
            period=period,
            kind=EntryKind.VAT,
            vat_category=total.category.value,
            vat_percent=f"{total.percent:f}",
            amount_minor=total.vat_minor,
            statement_id=statement.id,
        )
        for total in statement.vat
        if total.vat_minor
    ]


def mirrored(booked: Iterable[Entry], statement_id: str) -> tuple[Entry, ...]:
    """The rows of a credit note over a statement's."""
    return tuple(
        Entry(
            account=entry.account,
            member_id=entry.member_id,
            period=entry.period,
            kind=entry.kind,
            line_kind=entry.line_kind,
            reference=entry.reference,
            vat_category=entry.vat_category,
            vat_percent=entry.vat_percent,
            amount_minor=-entry.amount_minor,
            statement_id=statement_id,
        )
        for entry in booked
    )


def booked_of(entries: Iterable[Entry], period: str) -> Mapping[About, int]:
    """What is booked for a month, by what it is about."""
    found: defaultdict[About, int] = defaultdict(int)
    for entry in entries:
        if entry.period == period and entry.kind in OF_MONTH:
            found[about_of(entry)] += entry.amount_minor
    return found


def about_of(entry: Entry) -> About:
    """What a row is for."""
    account = {Account.GUESTS: GUESTS, Account.ASSOCIATION: ASSOCIATION}.get(entry.account)
    percent = None if entry.vat_percent is None else Decimal(entry.vat_percent)
    return About(account or entry.member_id or "", LineKind(entry.line_kind), entry.reference, percent)


def _of_charge(charge: Charge, period: str, ids: Mapping[str, str]) -> Entry:
    return _entry(charge.about, period, charge.net_minor, ids)


def _of_correction(each: Correction, ids: Mapping[str, str]) -> Entry:
    about = About(each.account, each.of, each.reference, each.percent)
    return _entry(about, each.period, each.net_minor, ids)


def _entry(about: About, period: str, minor: int, ids: Mapping[str, str]) -> Entry:
    account = {GUESTS: Account.GUESTS, ASSOCIATION: Account.ASSOCIATION}.get(about.account, Account.MEMBER)
    member = about.account if account is Account.MEMBER else None
    kind = EntryKind.CHARGE
    if account is not Account.MEMBER:
        kind = EntryKind.SHARE if about.kind is LineKind.POOL_SHARE else EntryKind.INCOME
    return Entry(
        account=account,
        member_id=member,
        period=period,
        kind=kind,
        line_kind=about.kind.value,
        reference=about.reference,
        vat_percent=None if about.percent is None else f"{about.percent:f}",
        amount_minor=minor,
        statement_id=None if member is None else ids.get(member),
    )
