"""The page Site, live: the supply tree, the bays, the latest events."""

import asyncio
import contextlib
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from api.web import site_view
from api.web.desk import back_to, central_of, page, render, signed_in
from api.web.names import names_of, pages_of
from api.web.sentences import refusals, sentence
from csms.access.people.service import SignIn
from csms.app import Central
from csms.sites.model import Site
from csms.store.paging import every

router = APIRouter(include_in_schema=False)

SignedIn = Annotated[SignIn, Depends(signed_in)]

EVENTS = 14
LOOK_BACK = 120
"""Facts read for the events shown: many facts are not for people."""
AT_MOST_EVERY_S = 1.0
AT_LEAST_EVERY_S = 5.0


@dataclass(frozen=True, slots=True)
class Totals:
    """Counts for the line under the title."""

    charging: int
    waiting: int
    connected: int
    stations: int


@router.get("/")
async def first(request: Request, _sign_in: SignedIn) -> Response:
    """The only site if there is one, else the list."""
    sites = await every(central_of(request).sites.list_sites)
    return back_to(f"/sites/{sites[0].id}" if len(sites) == 1 else "/sites")


@router.get("/sites")
async def sites(request: Request, sign_in: SignedIn) -> Response:
    found = await every(central_of(request).sites.list_sites)
    return page(request, "sites.html", {"sites": found}, sign_in=sign_in, current="Site")


@router.get("/sites/{site_id}")
async def show(request: Request, site_id: str, sign_in: SignedIn) -> Response:
    central = central_of(request)
    site = await central.sites.get_site(site_id)
    values = {"site": site, "parts": await parts_of(central, site)}
    return page(request, "site.html", values, sign_in=sign_in, current="Site", pages=pages_of(site_id))


@router.get("/sites/{site_id}/live", response_class=EventSourceResponse)
async def live(request: Request, site_id: str, _sign_in: SignedIn) -> AsyncIterator[ServerSentEvent]:
    """The parts of the page whenever they have changed, at most once a second."""
    central = central_of(request)
    site = await central.sites.get_site(site_id)
    sent: dict[str, str] = {}
    with central.bus.follow(f"site:{site_id}") as news:
        while True:
            for name, html in (await parts_of(central, site)).items():
                if sent.get(name) != html:
                    sent[name] = html
                    yield ServerSentEvent(event=name, raw_data=html)
            await asyncio.sleep(AT_MOST_EVERY_S)
            with contextlib.suppress(TimeoutError):
                try:
                    await asyncio.wait_for(anext(news), AT_LEAST_EVERY_S)
                except StopAsyncIteration:
                    return


async def parts_of(central: Central, site: Site) -> dict[str, str]:
    """The page's live parts as HTML, by name."""
    names = await names_of(central, site)
    circuits = await central.sites.circuits_of(site.id)
    stations = await central.stations.stations_of(site.id)
    running = await central.sessions.open_sessions(site.id)
    shown = central.power.picture(site.id)
    past = (await central.history.latest(site_id=site.id, limit=LOOK_BACK)).items
    refused = refusals((fact.topic, fact.subject, fact.body) for fact in past)
    evses = await central.stations.evses_of(site.id)
    bays = site_view.bay_rows(stations, evses, shown, running, names.all, refused)
    told = [event for f in past if (event := sentence(f.topic, f.body, f.at, names.all))]
    totals = Totals(
        charging=sum(bay.state == "charging" for bay in bays),
        waiting=sum(bay.state == "waiting" for bay in bays),
        connected=sum(station.connected for station in stations),
        stations=len(stations),
    )
    head = {
        "totals": totals,
        "clock": central.clock.now(),
        "speed": central.speed_text,
        "picture_full": shown.picture_full if shown else True,
    }
    zone = site.time_zone
    return {
        "totals": render("parts/totals.html", zone=zone, **head),
        "supply": render("parts/supply.html", zone=zone, circuits=site_view.tree(circuits, shown)),
        "bays": render("parts/bays.html", zone=zone, bays=bays),
        "events": render("parts/events.html", zone=zone, events=told[:EVENTS]),
    }
