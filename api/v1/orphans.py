"""`/v1/orphans`: steps of stations that fitted no session, until a person has settled them."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import LARGEST_ID, Ident, Input, Instant, Note, Number, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.sessions.session import OrphanStep
from csms.store.paging import Page

router = APIRouter(prefix="/orphans", tags=["orphans"], route_class=GuardedRoute)
cursors = Cursors("orphans", counted=True)


class Assignment(Input):
    """The session that the step belongs to."""

    session_id: int = Field(ge=1, le=LARGEST_ID)
    note: Note = ""


class Dismissal(Input):
    """Why the step is nothing that is billed."""

    note: Annotated[Note, Field(min_length=1)]


class OrphanOut(Output):
    """A step as the station told it. Resolved with a session: put into it; without: dismissed."""

    id: int
    station_id: str
    at: Instant
    arrived_at: Instant
    reason: str = Field(description="Why it fitted nowhere")
    body: Any
    resolved_at: Instant | None
    resolved_by: str | None
    session_id: int | None
    note: str | None


@router.get("", response_model=PageOut[OrphanOut])
async def list_orphans(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    station: Annotated[Ident | None, Query()] = None,
    resolved: Annotated[bool | None, Query(description="Whether somebody has settled it")] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[OrphanStep]:
    """Steps that fit all that is given, the newest first."""
    found = await central.orphans.list(
        site_id=site, station_id=station, resolved=resolved, after=cursors.read(after), limit=limit
    )
    return cursors.write(found)


@router.get("/{orphan_id}", response_model=OrphanOut)
async def get(central: TheCentral, orphan_id: Number) -> OrphanStep:
    """One step."""
    return await central.orphans.get(orphan_id)


@router.post("/{orphan_id}/assign", response_model=OrphanOut)
async def assign(central: TheCentral, asking: Asking, orphan_id: Number, body: Assignment) -> OrphanStep:
    """Put the step into a session of its station, which is measured and priced anew."""
    return await central.orphans.assign(orphan_id, body.session_id, str(asking), body.note)


@router.post("/{orphan_id}/dismiss", response_model=OrphanOut)
async def dismiss(central: TheCentral, asking: Asking, orphan_id: Number, body: Dismissal) -> OrphanStep:
    """It is nothing that is billed."""
    return await central.orphans.dismiss(orphan_id, str(asking), body.note)
