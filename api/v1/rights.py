"""`/v1/rights`: who may charge where."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.rights.right import Right
from csms.store.paging import Page

router = APIRouter(prefix="/rights", tags=["rights"], route_class=GuardedRoute)
cursors = Cursors("rights")


class NewRight(Input):
    """Who: exactly one of `member_id`, `group_id`, `everyone`. Where: a station, else a circuit
    with all below it, else the whole site."""

    id: Ident | None = None
    site_id: Ident
    member_id: Ident | None = None
    group_id: Ident | None = None
    everyone: bool = Field(default=False, description="Also an unknown card, or none")
    circuit_id: Ident | None = None
    station_id: Ident | None = None


class RightOut(Output):
    """A right."""

    id: str
    site_id: str
    member_id: str | None
    group_id: str | None
    everyone: bool = Field(validation_alias="for_everyone")
    circuit_id: str | None
    station_id: str | None
    created_at: Instant


@router.get("", response_model=PageOut[RightOut])
async def list_rights(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    group: Annotated[Ident | None, Query()] = None,
    station: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Right]:
    """Rights whose own fields are as given, by id."""
    return cursors.write(
        await central.rights.list(
            site_id=site,
            member_id=member,
            group_id=group,
            station_id=station,
            after=cursors.read(after),
            limit=limit,
        )
    )


@router.post("", status_code=201, response_model=RightOut)
async def give_right(central: TheCentral, body: NewRight, response: Response) -> Right:
    """Give a right; the same right is given once only, and comes back as it is."""
    right = await central.rights.give(
        id=body.id,
        site_id=body.site_id,
        member_id=body.member_id,
        group_id=body.group_id,
        everyone=body.everyone,
        circuit_id=body.circuit_id,
        station_id=body.station_id,
    )
    response.headers["Location"] = f"/v1/rights/{right.id}"
    return right


@router.get("/{right_id}", response_model=RightOut)
async def get_right(central: TheCentral, right_id: Id) -> Right:
    """One right."""
    return await central.rights.get(right_id)


@router.delete("/{right_id}", status_code=204)
async def take_right(central: TheCentral, right_id: Id) -> None:
    """Take a right away; running sessions go on."""
    await central.rights.take(right_id)
