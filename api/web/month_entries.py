"""Forms of the page Month: who issues, suppliers' invoices, the main meter's registers."""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.web.addresses import address_of
from api.web.desk import back_to, central_of, may_change
from api.web.page_route import NUL, PageRoute
from api.web.site import ThisSite
from csms.access.people.service import SignIn
from csms.documents.language import check_language
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.pool import Key
from csms.ledger.statement import Issuer
from csms.ledger.terms import Terms
from csms.money import Currency, Money

router = APIRouter(prefix="/month", include_in_schema=False, route_class=PageRoute)

MayChange = Annotated[SignIn, Depends(may_change)]
Field = Annotated[str, Form(pattern=f"^[^{NUL}]*$", max_length=4000)]

WATTHOURS = Decimal(1000)


async def done(change: Callable[[], Awaitable[Any]], address: str, notice: str) -> Response:
    """Carry out `change`, then back to the page with what was done or why it was not."""
    try:
        await change()
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    return back_to(address, notice=notice)


@router.post("/{site_id}/terms")
async def set_terms(
    request: Request,
    site: ThisSite,
    _own: MayChange,
    month: Field,
    name: Field,
    first_month: Field,
    due_days: Field,
    address_lines: Field = "",
    country: Field = "",
    tax_id: Field = "",
    email: Field = "",
    payment_to: Field = "",
    language: Field = "en",
    pays: Field = "sessions",
) -> Response:
    """Who issues, and how. What the form does not show stays as it is."""
    billing = central_of(request).ledger.billing

    async def change() -> None:
        issuer = Issuer(
            name=name,
            address=tuple(line.strip() for line in address_lines.splitlines() if line.strip()),
            tax_id=tax_id.strip() or None,
            country=country.strip().upper(),
            email=email.strip(),
            payment_to=payment_to.strip(),
        )
        try:
            before = await billing.terms(site.id)
        except NotFound:
            before = Terms(issuer=issuer, first_month=first_month.strip())
        terms = replace(
            before,
            issuer=issuer,
            first_month=first_month.strip(),
            due_days=whole("due_days", due_days),
            language=check_language("language", language).value,
            members_pay_sessions=pays != "shares",
            # Who is not registered any more has no rate either.
            vat_percent=before.vat_percent if issuer.tax_id else None,
        )
        await billing.set_terms(site.id, terms)

    return await done(change, address_of(site.id, month), "Kept: who issues, and how.")


@router.post("/{site_id}/invoices/enter")
async def enter_invoice(
    request: Request,
    site: ThisSite,
    _own: MayChange,
    month: Field,
    name: Field,
    amount: Field,
    period_start: Field,
    period_end: Field,
    key: Field,
    vat: Field = "",
    vat_percent: Field = "",
    supplier: Field = "",
    invoice: Field = "",
) -> Response:
    """A supplier's invoice; the last day of its period is the last that it covers."""
    pools = central_of(request).ledger.pools
    currency = Currency(site.currency)

    async def change() -> None:
        await pools.create(
            site_id=site.id,
            name=name,
            supplier=supplier,
            invoice=invoice,
            amount_minor=money("amount", amount, currency),
            vat_minor=money("vat", vat or "0", currency),
            vat_percent=decimal("vat_percent", vat_percent) if vat_percent.strip() else None,
            currency=site.currency,
            period_start=day("period_start", period_start),
            period_end=day("period_end", period_end) + timedelta(days=1),
            key=_key(key),
        )

    address = address_of(site.id, month, "#invoices")
    return await done(change, address, f"The invoice {name.strip()} is entered.")


@router.post("/{site_id}/invoices/remove")
async def remove_invoice(
    request: Request, site: ThisSite, _own: MayChange, month: Field, pool_id: Field
) -> Response:
    """Take an invoice out that was entered by mistake."""
    pools = central_of(request).ledger.pools

    async def change() -> None:
        if (await pools.get(pool_id)).site_id != site.id:
            raise NotFound("pool", pool_id)
        await pools.delete(pool_id)

    return await done(change, address_of(site.id, month, "#invoices"), "The invoice is removed.")


@router.post("/{site_id}/meter/enter")
async def enter_register(
    request: Request,
    site: ThisSite,
    _own: MayChange,
    month: Field,
    serial: Field,
    at: Field,
    register_kwh: Field,
) -> Response:
    """A reading of the main meter, at a time of the site."""
    pools = central_of(request).ledger.pools

    async def change() -> None:
        exact = decimal("register_kwh", register_kwh) * WATTHOURS
        if exact != exact.to_integral_value():
            raise InvalidInput("register_kwh", "has more than three decimals; a meter shows three at most")
        await pools.add_register(
            site_id=site.id, serial=serial, at=moment("at", at, site.time_zone), register_wh=int(exact)
        )

    return await done(change, address_of(site.id, month, "#meter"), "The register is entered.")


def decimal(field: str, text: str) -> Decimal:
    """A number as people type it: `1 234,50`, `1.234,50`, `1,234.50`, `1234.5`. InvalidInput (`field`)."""
    plain = "".join(text.split()).replace("\N{RIGHT SINGLE QUOTATION MARK}", "").replace("'", "")
    last = max(plain.rfind(","), plain.rfind("."))
    if last >= 0:
        whole_part, fraction = plain[:last], plain[last + 1 :]
        grouped = whole_part.replace(",", "").replace(".", "")
        several = plain.count(plain[last]) > 1
        plain = f"{grouped}{fraction}" if several else f"{grouped}.{fraction}"
    try:
        number = Decimal(plain)
    except InvalidOperation:
        raise InvalidInput(field, f"{text!r} is not a number such as 1234.50") from None
    if not number.is_finite() or "e" in plain.lower():
        raise InvalidInput(field, f"{text!r} is not a number such as 1234.50")
    return number


def money(field: str, text: str, currency: Currency) -> int:
    """An amount in minor units; more decimals than the currency has are refused, not rounded."""
    exact = decimal(field, text)
    amount = Money.from_decimal(exact, currency)
    if amount.to_decimal() != exact:
        raise InvalidInput(field, f"{text!r} has more decimals than {currency} has")
    return amount.minor


def whole(field: str, text: str) -> int:
    """A whole number."""
    number = decimal(field, text)
    if number != number.to_integral_value():
        raise InvalidInput(field, f"{text!r} is not a whole number")
    return int(number)


def day(field: str, text: str) -> date:
    """A day as a browser sends it."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InvalidInput(field, f"{text!r} is not a day such as 2026-11-30") from None


def moment(field: str, text: str, zone: str) -> datetime:
    """A moment of the site's clock, as a browser sends it: `2026-12-01T00:00`."""
    try:
        local = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InvalidInput(field, f"{text!r} is not a day and time such as 2026-12-01T00:00") from None
    return local if local.tzinfo else local.replace(tzinfo=ZoneInfo(zone))


def _key(text: str) -> Key:
    try:
        return Key(text)
    except ValueError:
        raise InvalidInput("key", f"{text!r} is none of {', '.join(Key)}") from None
