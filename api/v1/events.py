"""`/v1/events`: what happened, the newest first."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Ident, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.cluster.history import PastFact
from csms.store.paging import Page

router = APIRouter(prefix="/events", tags=["events"], route_class=GuardedRoute)
cursors = Cursors("events", counted=True)


class EventOut(Output):
    """A fact. `topic` is dotted, `subject` the id of what it is about, `body` written to be read."""

    id: int
    topic: str
    at: Instant
    site_id: str | None
    subject: str
    body: dict[str, Any]


@router.get("", response_model=PageOut[EventOut])
async def latest(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    topic: Annotated[
        str,
        Query(max_length=40, pattern=r"^[a-z_.]*$", description="Its beginning, e.g. `session.`"),
    ] = "",
    subject: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[PastFact]:
    """What happened, the newest first."""
    return cursors.write(
        await central.history.latest(
            site_id=site, topic=topic, subject=subject, after=cursors.read(after), limit=limit
        )
    )
