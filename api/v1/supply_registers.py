"""`/v1/supply-registers`: what the meter in front of all chargers showed. Losses are measured by it."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.ledger.supply import LARGEST_WH, SupplyRegister
from csms.store.paging import Page

router = APIRouter(prefix="/supply-registers", tags=["supply registers"], route_class=GuardedRoute)
cursors = Cursors("supply registers")


class NewSupplyRegister(Input):
    """A reading, best at the local midnight that begins a month. Another `serial` is another meter."""

    id: Ident | None = None
    site_id: Ident
    serial: str = Field(min_length=1, max_length=60)
    at: Instant
    register_wh: int = Field(ge=0, le=LARGEST_WH)


class SupplyRegisterOut(Output):
    """A reading of the main meter."""

    id: str
    site_id: str
    serial: str
    at: Instant
    register_wh: int
    created_at: Instant


@router.get("", response_model=PageOut[SupplyRegisterOut])
async def list_supply_registers(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[SupplyRegister]:
    """Readings of a site or of all, by id."""
    return cursors.write(
        await central.ledger.pools.list_registers(site_id=site, after=cursors.read(after), limit=limit)
    )


@router.post("", status_code=201, response_model=SupplyRegisterOut)
async def create_supply_register(
    central: TheCentral, body: NewSupplyRegister, response: Response
) -> SupplyRegister:
    """Enter a reading; a register that runs backwards is refused (`register_wh`)."""
    made = await central.ledger.pools.add_register(
        id=body.id, site_id=body.site_id, serial=body.serial, at=body.at, register_wh=body.register_wh
    )
    response.headers["Location"] = f"/v1/supply-registers/{made.id}"
    return made


@router.get("/{register_id}", response_model=SupplyRegisterOut)
async def get_supply_register(central: TheCentral, register_id: Id) -> SupplyRegister:
    """One reading."""
    return await central.ledger.pools.get_register(register_id)


@router.delete("/{register_id}", status_code=204)
async def delete_supply_register(central: TheCentral, register_id: Id) -> None:
    """Remove a reading that was entered by mistake."""
    await central.ledger.pools.delete_register(register_id)
