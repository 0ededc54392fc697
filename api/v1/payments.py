"""`/v1/payments`: what members paid. A payment stays; one booked by mistake is undone by a negative one."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.amounts import AmountText, CurrencyText, Day, minor_of, text_of
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Note, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.ledger.payments.payment import Payment
from csms.store.paging import Page

router = APIRouter(prefix="/payments", tags=["payments"], route_class=GuardedRoute)
cursors = Cursors("payments")


class NewPayment(Input):
    """`reference`: the bank's own of the movement; the same one twice is refused, as the import was."""

    id: Ident | None = None
    site_id: Ident
    member_id: Ident
    paid_on: Day
    amount: AmountText
    currency: CurrencyText
    reference: str = Field(min_length=1, max_length=120)
    note: Note = ""


class PaymentOut(Output):
    """A payment."""

    id: str
    site_id: str
    member_id: str
    paid_on: Day
    amount: str
    currency: str
    reference: str
    note: str
    created_at: Instant


def _shown(payment: Payment) -> PaymentOut:
    return PaymentOut(
        id=payment.id,
        site_id=payment.site_id,
        member_id=payment.member_id,
        paid_on=payment.paid_on,
        amount=text_of(payment.amount_minor, payment.currency),
        currency=payment.currency,
        reference=payment.reference,
        note=payment.note,
        created_at=payment.created_at,
    )


@router.get("", response_model=PageOut[PaymentOut])
async def list_payments(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[PaymentOut]:
    """Payments that fit all that is given, by id."""
    page = cursors.write(
        await central.ledger.payments.list(
            site_id=site, member_id=member, after=cursors.read(after), limit=limit
        )
    )
    return Page(tuple(_shown(payment) for payment in page.items), page.next)


@router.post("", status_code=201, response_model=PaymentOut)
async def create_payment(central: TheCentral, body: NewPayment, response: Response) -> PaymentOut:
    """Book a payment of a member; also a part of what it owes, or more."""
    made = await central.ledger.payments.create(
        id=body.id,
        site_id=body.site_id,
        member_id=body.member_id,
        paid_on=body.paid_on,
        amount_minor=minor_of("amount", body.amount, body.currency),
        currency=body.currency,
        reference=body.reference,
        note=body.note,
    )
    response.headers["Location"] = f"/v1/payments/{made.id}"
    return _shown(made)


@router.get("/{payment_id}", response_model=PaymentOut)
async def get_payment(central: TheCentral, payment_id: Id) -> PaymentOut:
    """One payment."""
    return _shown(await central.ledger.payments.get(payment_id))
