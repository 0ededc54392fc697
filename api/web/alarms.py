"""The page Alarms: what a person has to see to; take one on, end one; who is told."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.web.alarms_view import alarm_row, gravest_first
from api.web.desk import back_to, central_of, may_change, page
from api.web.names import names_of, pages_of
from api.web.page_route import NUL, PageRoute
from api.web.site import ThisSite
from csms.access.people.service import SignIn
from csms.alarms.alarm import Alarm
from csms.alarms.repository import AlarmFilter
from csms.alarms.routes import Route
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.paging import every

router = APIRouter(prefix="/alarms", include_in_schema=False, route_class=PageRoute)

MayChange = Annotated[SignIn, Depends(may_change)]
Note = Annotated[str, Form(pattern=f"^[^{NUL}]*$", max_length=254)]
LATELY = 20


@router.get("/{site_id}")
async def show(request: Request, site: ThisSite) -> Response:
    central = central_of(request)
    names = (await names_of(central, site)).all
    standing = await every(central.alarms.list, AlarmFilter(site_id=site.id, standing=True))
    over = await central.alarms.list(AlarmFilter(site_id=site.id, standing=False), limit=LATELY)
    routes = await every(central.alarm_routes.list, site_id=site.id)
    values = {
        "site": site,
        "zone": site.time_zone,
        "standing": [alarm_row(alarm, names) for alarm in gravest_first(standing)],
        "over": [alarm_row(alarm, names) for alarm in over.items],
        "routes": [_route(route) for route in routes],
    }
    return page(request, "alarms.html", values, current="Alarms", pages=pages_of(site.id))


def _route(route: Route) -> dict[str, Any]:
    minutes = route.after_s // 60
    when = f"when nobody sees to it within {minutes} min" if route.after_s else "at once"
    from_weight = f"{route.lowest.value} and above" if route.lowest.rank < 2 else route.lowest.value
    off = "" if route.active else ", switched off"
    return {"address": route.address, "says": f"{from_weight}, {when}, by {route.channel.value}{off}"}


@router.post("/{site_id}/{alarm_id}/take")
async def take(request: Request, site_id: str, alarm_id: int, own: MayChange, note: Note = "") -> Response:
    address = f"/alarms/{quote(site_id)}"
    try:
        await _of_site(request, site_id, alarm_id)
        by = str(own.principal)
        alarm = await central_of(request).alarms.acknowledge(alarm_id, by=by, note=note.strip())
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    return back_to(address, notice=f"You see to it: alarm {alarm.id}. Nobody further up is told.")


@router.post("/{site_id}/{alarm_id}/end")
async def end(request: Request, site_id: str, alarm_id: int, own: MayChange) -> Response:
    address = f"/alarms/{quote(site_id)}"
    try:
        await _of_site(request, site_id, alarm_id)
        await central_of(request).alarms.clear(alarm_id, by=str(own.principal))
    except (NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    return back_to(address, notice="It is over. If it still holds, it is raised again when it is told again.")


async def _of_site(request: Request, site_id: str, alarm_id: int) -> Alarm:
    """Raises NotFound when the alarm is not one of that site."""
    alarm = await central_of(request).alarms.get(alarm_id)
    if alarm.site_id != site_id:
        raise NotFound("alarm", alarm_id)
    return alarm
