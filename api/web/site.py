"""The page Site, live: the supply tree, the bays, the latest events."""

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from api.web.desk import back_to, central_of, page, signed_in
from api.web.names import pages_of
from api.web.page_route import PageRoute
from api.web.panels import AT_MOST_EVERY_S, Panels
from csms.access.people.service import SignIn
from csms.sites.model import Site
from csms.store.paging import every

router = APIRouter(include_in_schema=False, route_class=PageRoute)

SignedIn = Annotated[SignIn, Depends(signed_in)]

AT_LEAST_EVERY_S = 4.0
LOOKS_PER_CHECK = 20
"""A stream outlives the page's request, so now and then it asks whether the sign-in still holds."""


async def site_of(request: Request, site_id: str, _sign_in: SignedIn) -> Site:
    """The site of the address, for those who are signed in. Raises NotFound."""
    return await central_of(request).sites.get_site(site_id)


async def panels_of(request: Request) -> Panels:
    found: Panels = request.app.state.panels
    return found


ThisSite = Annotated[Site, Depends(site_of)]
Live = Annotated[Panels, Depends(panels_of)]


@router.get("/")
async def first(request: Request, _sign_in: SignedIn) -> Response:
    """The only site if there is one, else the list."""
    sites = await every(central_of(request).sites.list_sites)
    return back_to(f"/sites/{sites[0].id}" if len(sites) == 1 else "/sites")


@router.get("/sites")
async def sites(request: Request, _sign_in: SignedIn) -> Response:
    found = await every(central_of(request).sites.list_sites)
    return page(request, "sites.html", {"sites": found}, current="Site")


@router.get("/sites/{site_id}")
async def show(request: Request, site: ThisSite, panels: Live) -> Response:
    values = {"site": site, "parts": await panels.fresh(site)}
    return page(request, "site.html", values, current="Site", pages=pages_of(site.id))


@router.get("/sites/{site_id}/live", response_class=EventSourceResponse)
async def live(
    request: Request, site: ThisSite, sign_in: SignedIn, panels: Live
) -> AsyncIterator[ServerSentEvent]:
    """The parts of the page whenever they have changed, at most once a second."""
    central = central_of(request)
    sent: dict[str, str] = {}
    looks = 0
    with central.bus.follow(f"site:{site.id}") as news:
        going_on = True
        while going_on:
            looks += 1
            if looks % LOOKS_PER_CHECK == 0 and await central.people.check(sign_in.secret) is None:
                return
            for name, html in (await panels.of(site)).items():
                if sent.get(name) != html:
                    sent[name] = html
                    yield ServerSentEvent(event=name, raw_data=html)
            await asyncio.sleep(AT_MOST_EVERY_S)
            going_on = await news.changes(AT_LEAST_EVERY_S)
