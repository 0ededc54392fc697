"""`/v1/books`: what members owe, and whether the books hold."""

from typing import Annotated

from fastapi import APIRouter, Query

from api.amounts import Day, text_of
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Output
from api.v1.statement_runs import CheckOut, checks_out
from csms.ledger.payments.payment import Owed

router = APIRouter(prefix="/books", tags=["books"], route_class=GuardedRoute)

MonthQuery = Annotated[str | None, Query(pattern=r"^\d{4}-\d{2}$")]


class OpenItemOut(Output):
    """What is still to be paid of a document. `age_days`: since it was due; negative while it is not."""

    statement_id: str
    number: str
    issued_on: Day
    due_on: Day
    amount: str
    open: str
    age_days: int


class BalanceOut(Output):
    """A member's account: above zero it owes, below zero it is owed. The oldest open item first."""

    member_id: str
    name: str
    currency: str
    balance: str
    oldest_days: int | None
    items: list[OpenItemOut]


class MonthProofOut(Output):
    """The ten checks of an issued month. `late`: something came since, which the next statements correct."""

    period: str
    holds: bool
    late: bool
    checks: list[CheckOut]


class BooksOut(Output):
    """Whether the books hold, month by month."""

    holds: bool
    months: list[MonthProofOut]


def _shown(owed: Owed) -> BalanceOut:
    return BalanceOut(
        member_id=owed.member_id,
        name=owed.name,
        currency=owed.currency,
        balance=text_of(owed.balance_minor, owed.currency),
        oldest_days=owed.oldest_days,
        items=[
            OpenItemOut(
                statement_id=item.statement_id,
                number=item.number,
                issued_on=item.issued_on,
                due_on=item.due_on,
                amount=text_of(item.amount_minor, owed.currency),
                open=text_of(item.open_minor, owed.currency),
                age_days=item.age_days,
            )
            for item in owed.items
        ],
    )


@router.get("/{site_id}/balances", response_model=list[BalanceOut])
async def list_balances(
    central: TheCentral, site_id: Id, member: Annotated[Ident | None, Query()] = None
) -> list[BalanceOut]:
    """What every member with anything booked owes, or one, for reminders."""
    return [_shown(owed) for owed in await central.ledger.payments.owed(site_id, member)]


@router.get("/{site_id}/check", response_model=BooksOut)
async def check_books(
    central: TheCentral,
    site_id: Id,
    from_month: Annotated[MonthQuery, Query(alias="from")] = None,
    to_month: Annotated[MonthQuery, Query(alias="to")] = None,
) -> BooksOut:
    """The ten reconciliations of every issued month from one to another; of all where none is given."""
    found = await central.ledger.books.check(site_id, from_month, to_month)
    months = [
        MonthProofOut(period=each.period, holds=each.holds, late=each.late, checks=checks_out(each.checks))
        for each in found
    ]
    return BooksOut(holds=all(each.holds for each in found), months=months)
