"""`/v1/pools`: suppliers' invoices, shared by a key over the months of their period."""

from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.amounts import AmountText, CurrencyText, Day, PercentText, minor_of, text_of
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Note, Output, Text
from api.pagination import After, Cursors, Limit, PageOut
from csms.ledger.pool import Key, Pool
from csms.store.paging import Page

router = APIRouter(prefix="/pools", tags=["pools"], route_class=GuardedRoute)
cursors = Cursors("pools")


class PoolChange(Input):
    """An invoice. `amount` without VAT and `vat` on top; negative for a supplier's credit.

    From `period_start` to before `period_end`. `key`: by energy (kwh), the same for every active space
    (equal), spaces by days (days), energy in the hour of most power (peak), or not shared (association).
    """

    name: Text
    supplier: Note = ""
    invoice: Note = ""
    amount: AmountText
    vat: AmountText = "0"
    vat_percent: PercentText | None = Field(default=None, description="Needed when registered for VAT")
    currency: CurrencyText
    period_start: Day
    period_end: Day
    key: Key = Field(strict=False)


class NewPool(PoolChange):
    """A new invoice of a site."""

    id: Ident | None = None
    site_id: Ident


class PoolOut(Output):
    """An invoice."""

    id: str
    site_id: str
    name: str
    supplier: str
    invoice: str
    amount: str
    vat: str
    vat_percent: str | None
    currency: str
    period_start: Day
    period_end: Day
    key: Key
    created_at: Instant


def _shown(pool: Pool) -> PoolOut:
    return PoolOut(
        id=pool.id,
        site_id=pool.site_id,
        name=pool.name,
        supplier=pool.supplier,
        invoice=pool.invoice,
        amount=text_of(pool.amount_minor, pool.currency),
        vat=text_of(pool.vat_minor, pool.currency),
        vat_percent=None if pool.vat_percent is None else f"{pool.vat_percent:f}",
        currency=pool.currency,
        period_start=pool.period_start,
        period_end=pool.period_end,
        key=pool.key,
        created_at=pool.created_at,
    )


def _percent(body: PoolChange) -> Decimal | None:
    return None if body.vat_percent is None else Decimal(body.vat_percent)


@router.get("", response_model=PageOut[PoolOut])
async def list_pools(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[PoolOut]:
    """Invoices of a site or of all, by id."""
    page = cursors.write(
        await central.ledger.pools.list(site_id=site, after=cursors.read(after), limit=limit)
    )
    return Page(tuple(_shown(pool) for pool in page.items), page.next)


@router.post("", status_code=201, response_model=PoolOut)
async def create_pool(central: TheCentral, body: NewPool, response: Response) -> PoolOut:
    """Enter an invoice. One for a month that has been billed is made good by the next statements."""
    made = await central.ledger.pools.create(
        id=body.id,
        site_id=body.site_id,
        name=body.name,
        supplier=body.supplier,
        invoice=body.invoice,
        amount_minor=minor_of("amount", body.amount, body.currency),
        vat_minor=minor_of("vat", body.vat, body.currency),
        vat_percent=_percent(body),
        currency=body.currency,
        period_start=body.period_start,
        period_end=body.period_end,
        key=body.key,
    )
    response.headers["Location"] = f"/v1/pools/{made.id}"
    return _shown(made)


@router.get("/{pool_id}", response_model=PoolOut)
async def get_pool(central: TheCentral, pool_id: Id) -> PoolOut:
    """One invoice."""
    return _shown(await central.ledger.pools.get(pool_id))


@router.put("/{pool_id}", response_model=PoolOut)
async def change_pool(central: TheCentral, pool_id: Id, body: PoolChange) -> PoolOut:
    """The invoice as its supplier corrected it."""
    old = await central.ledger.pools.get(pool_id)
    changed = Pool(
        id=old.id,
        site_id=old.site_id,
        name=body.name,
        supplier=body.supplier,
        invoice=body.invoice,
        amount_minor=minor_of("amount", body.amount, body.currency),
        vat_minor=minor_of("vat", body.vat, body.currency),
        vat_percent=_percent(body),
        currency=body.currency,
        period_start=body.period_start,
        period_end=body.period_end,
        key=body.key,
        created_at=old.created_at,
    )
    return _shown(await central.ledger.pools.change(pool_id, changed))


@router.delete("/{pool_id}", status_code=204)
async def delete_pool(central: TheCentral, pool_id: Id) -> None:
    """Remove an invoice that was entered by mistake."""
    await central.ledger.pools.delete(pool_id)
