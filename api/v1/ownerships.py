"""`/v1/ownerships`: whose a token or a charging place was, from when to when. Statements go by it."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.access.ownerships.ownership import Ownership
from csms.store.paging import Page

router = APIRouter(prefix="/ownerships", tags=["ownerships"], route_class=GuardedRoute)
cursors = Cursors("ownerships")


class NewOwnership(Input):
    """A token, or a station's EVSE (left out or 0: all of them), belongs to a member.

    `from_at` inclusive, left out: since ever; `to_at` exclusive, left out: until further notice. Give
    local midnights where somebody moves.
    """

    id: Ident | None = None
    site_id: Ident
    member_id: Ident
    token_id: Ident | None = None
    station_id: Ident | None = None
    evse: int | None = Field(default=None, ge=0, le=999)
    from_at: Instant | None = None
    to_at: Instant | None = None


class OwnershipEnd(Input):
    """When it ends, exclusive."""

    at: Instant


class OwnershipOut(Output):
    """Whose a thing was when."""

    id: str
    site_id: str
    member_id: str
    token_id: str | None
    station_id: str | None
    evse: int | None
    from_at: Instant | None
    to_at: Instant | None
    created_at: Instant


def _shown(each: Ownership) -> OwnershipOut:
    return OwnershipOut(
        id=each.id,
        site_id=each.site_id,
        member_id=each.member_id,
        token_id=each.thing.token_id,
        station_id=each.thing.station_id,
        evse=each.thing.evse,
        from_at=each.from_at,
        to_at=each.to_at,
        created_at=each.created_at,
    )


@router.get("", response_model=PageOut[OwnershipOut])
async def list_ownerships(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    member: Annotated[Ident | None, Query()] = None,
    token: Annotated[Ident | None, Query()] = None,
    station: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[OwnershipOut]:
    """Ownerships that fit all that is given, ended ones among them, by id."""
    page = cursors.write(
        await central.ownerships.list(
            site_id=site,
            member_id=member,
            token_id=token,
            station_id=station,
            after=cursors.read(after),
            limit=limit,
        )
    )
    return Page(tuple(_shown(each) for each in page.items), page.next)


@router.post("", status_code=201, response_model=OwnershipOut)
async def create_ownership(central: TheCentral, body: NewOwnership, response: Response) -> OwnershipOut:
    """A thing belongs to a member; two owners at a time are refused (`from_at`)."""
    made = await central.ownerships.create(
        id=body.id,
        site_id=body.site_id,
        member_id=body.member_id,
        token_id=body.token_id,
        station_id=body.station_id,
        evse=body.evse,
        from_at=body.from_at,
        to_at=body.to_at,
    )
    response.headers["Location"] = f"/v1/ownerships/{made.id}"
    return _shown(made)


@router.get("/{ownership_id}", response_model=OwnershipOut)
async def get_ownership(central: TheCentral, ownership_id: Id) -> OwnershipOut:
    """One ownership."""
    return _shown(await central.ownerships.get(ownership_id))


@router.post("/{ownership_id}/end", response_model=OwnershipOut)
async def end_ownership(central: TheCentral, ownership_id: Id, body: OwnershipEnd) -> OwnershipOut:
    """It ends then; a session that runs is cut there by its register."""
    return _shown(await central.ownerships.end(ownership_id, body.at))


@router.delete("/{ownership_id}", status_code=204)
async def delete_ownership(central: TheCentral, ownership_id: Id) -> None:
    """Remove one that was written by mistake."""
    await central.ownerships.delete(ownership_id)
