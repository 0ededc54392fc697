"""`/v1/billing`: how a site bills, and where its members' statements go."""

from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from api.amounts import PercentText
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Note, Output, Text
from csms.ledger.statement import Issuer
from csms.ledger.terms import MOST_LINES, Late, Losses, Surplus, Terms

router = APIRouter(prefix="/billing", tags=["billing"], route_class=GuardedRoute)

Lines = Annotated[list[Note], Field(max_length=MOST_LINES)]
Language = Annotated[str, Field(pattern="^([a-z]{2})?$")]


class IssuerIn(Input):
    """The association. Without `tax_id` it is not registered for VAT: no VAT is charged."""

    name: Text
    address: Lines = Field(default_factory=list)
    tax_id: Text | None = None
    country: str = Field(default="", pattern="^([A-Z]{2})?$", description="ISO 3166-1, two letters")
    email: Note = ""
    payment_to: Note = Field(default="", description="Where to pay, such as an IBAN")


class TermsIn(Input):
    """Left out: as in the defaults shown."""

    issuer: IssuerIn
    first_month: str = Field(pattern=r"^\d{4}-\d{2}$", examples=["2026-01"])
    series: str = Field(default="S", pattern="^[A-Z][A-Z0-9]{0,9}$")
    credit_series: str = Field(default="C", pattern="^[A-Z][A-Z0-9]{0,9}$")
    language: str = Field(default="en", pattern="^[a-z]{2}$")
    due_days: int = Field(default=14, ge=0, le=365)
    members_pay_sessions: bool = Field(
        default=True, description="False: members pay by shares of invoices only"
    )
    vat_percent: PercentText | None = Field(default=None, description="For what names no rate itself")
    late: Late = Field(default=Late.NEXT_PERIOD, strict=False)
    losses: Losses = Field(default=Losses.BY_KWH, strict=False)
    loss_bound_percent: PercentText = Field(default="8", description="Losses above it stop a run")
    surplus: Surplus = Field(default=Surplus.ASSOCIATION, strict=False)
    correct_months: int = Field(default=12, ge=0, le=36, description="How far back late data are looked for")


class IssuerOut(Output):
    """The association."""

    name: str
    address: list[str]
    tax_id: str | None
    country: str
    email: str
    payment_to: str


class TermsOut(Output):
    """How a site bills."""

    issuer: IssuerOut
    first_month: str
    series: str
    credit_series: str
    language: str
    due_days: int
    members_pay_sessions: bool
    vat_percent: str | None
    late: Late
    losses: Losses
    loss_bound_percent: str
    surplus: Surplus
    correct_months: int


class AddressIn(Input):
    """Address lines, and the language of statements ("": the site's)."""

    lines: Lines
    language: Language = ""


class AddressOut(Output):
    """Where a member's statements go."""

    lines: list[str]
    language: str


def _shown(terms: Terms) -> TermsOut:
    percent = terms.vat_percent
    return TermsOut(
        issuer=IssuerOut.model_validate(terms.issuer),
        first_month=terms.first_month,
        series=terms.series,
        credit_series=terms.credit_series,
        language=terms.language,
        due_days=terms.due_days,
        members_pay_sessions=terms.members_pay_sessions,
        vat_percent=None if percent is None else f"{percent:f}",
        late=terms.late,
        losses=terms.losses,
        loss_bound_percent=f"{terms.loss_bound_percent:f}",
        surplus=terms.surplus,
        correct_months=terms.correct_months,
    )


@router.get("/sites/{site_id}", response_model=TermsOut)
async def get_terms(central: TheCentral, site_id: Id) -> TermsOut:
    """How the site bills."""
    return _shown(await central.ledger.billing.terms(site_id))


@router.put("/sites/{site_id}", response_model=TermsOut)
async def put_terms(central: TheCentral, site_id: Id, body: TermsIn) -> TermsOut:
    """How the site bills from now on; what has been issued stays as it is."""
    values = body.model_dump(exclude={"issuer", "vat_percent", "loss_bound_percent"})
    issuer = body.issuer
    terms = Terms(
        issuer=Issuer(
            name=issuer.name,
            address=tuple(issuer.address),
            tax_id=issuer.tax_id,
            country=issuer.country,
            email=issuer.email,
            payment_to=issuer.payment_to,
        ),
        vat_percent=None if body.vat_percent is None else Decimal(body.vat_percent),
        loss_bound_percent=Decimal(body.loss_bound_percent),
        **values,
    )
    return _shown(await central.ledger.billing.set_terms(site_id, terms))


@router.get("/members/{member_id}", response_model=AddressOut)
async def get_address(central: TheCentral, member_id: Id) -> AddressOut:
    """Where a member's statements go."""
    lines, language = await central.ledger.billing.address(member_id)
    return AddressOut(lines=list(lines), language=language)


@router.put("/members/{member_id}", response_model=AddressOut)
async def put_address(central: TheCentral, member_id: Id, body: AddressIn) -> AddressOut:
    """Where a member's statements go from now on."""
    lines, language = await central.ledger.billing.set_address(member_id, tuple(body.lines), body.language)
    return AddressOut(lines=list(lines), language=language)
