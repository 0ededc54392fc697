"""`/v1/alarm-routes`: who is told of alarms, by which channel, at once or when nobody takes them on."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.alarms.alarm import Severity
from csms.alarms.routes import LONGEST_ADDRESS, LONGEST_AFTER_S, ChannelKind, Route
from csms.store.paging import Page

router = APIRouter(prefix="/alarm-routes", tags=["alarms"], route_class=GuardedRoute)
cursors = Cursors("alarm routes")

Address = Annotated[
    str,
    Field(
        min_length=1,
        max_length=LONGEST_ADDRESS,
        pattern=r"^[^\x00-\x1f\x7f]+$",
        description="A mail address, or the http(s) address of a webhook",
    ),
]
AfterS = Annotated[
    int,
    Field(ge=0, le=LONGEST_AFTER_S, description="0: told at once; else when nobody took it on by then, in s"),
]


class NewRoute(Input):
    """`site_id` null: alarms of every site. `lowest`: the lightest that is told."""

    channel: ChannelKind = Field(strict=False)
    address: Address
    site_id: Ident | None = None
    lowest: Severity = Field(default=Severity.WARNING, strict=False)
    after_s: AfterS = 0


class RouteChange(Input):
    """What is left out stays."""

    address: Address = Field(default_factory=absent)
    lowest: Severity = Field(default_factory=absent, strict=False)
    after_s: AfterS = Field(default_factory=absent)
    active: bool = Field(default_factory=absent)


class RouteOut(Output):
    """Who is told of what."""

    id: str
    channel: ChannelKind
    address: str
    site_id: str | None
    lowest: Severity
    after_s: int
    active: bool
    created_at: Instant


class MadeRoute(RouteOut):
    """`secret` signs what a webhook is sent (Standard Webhooks). It is shown this once."""

    secret: str


@router.get("", response_model=PageOut[RouteOut])
async def list_routes(
    central: TheCentral,
    site: Annotated[Ident | None, Query(description="Those that alarms of this site can go to")] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Route]:
    """Who is told, by id."""
    page = await central.alarm_routes.list(site_id=site, after=cursors.read(after), limit=limit)
    return cursors.write(page)


@router.post("", status_code=201, response_model=MadeRoute)
async def create_route(central: TheCentral, body: NewRoute, response: Response) -> Route:
    """Tell somebody from now on, also of what stands already."""
    route = await central.alarm_routes.create(
        channel=body.channel,
        address=body.address,
        site_id=body.site_id,
        lowest=body.lowest,
        after_s=body.after_s,
    )
    response.headers["Location"] = f"/v1/alarm-routes/{route.id}"
    return route


@router.get("/{route_id}", response_model=RouteOut)
async def get_route(central: TheCentral, route_id: Id) -> Route:
    """One of them."""
    return await central.alarm_routes.get(route_id)


@router.patch("/{route_id}", response_model=RouteOut)
async def change_route(central: TheCentral, route_id: Id, body: RouteChange) -> Route:
    """Change what is given."""
    return await central.alarm_routes.update(route_id, **body.given())


@router.delete("/{route_id}", status_code=204)
async def delete_route(central: TheCentral, route_id: Id) -> None:
    """Tell nobody by it any more."""
    await central.alarm_routes.delete(route_id)
