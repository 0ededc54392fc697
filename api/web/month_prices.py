"""Market prices on the page Month: what the month lacks, a document sent in, sessions priced again."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, File, Form, Request, UploadFile
from fastapi.responses import Response

from api.web.addresses import address_of
from api.web.desk import back_to, central_of, may_change
from api.web.month_view import count, some
from api.web.page_route import NUL, PageRoute
from api.web.site import ThisSite
from csms.access.people.service import SignIn
from csms.app import Central
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.period import Month
from csms.sites.model import Site
from csms.store.paging import every

router = APIRouter(prefix="/month", include_in_schema=False, route_class=PageRoute)

MayChange = Annotated[SignIn, Depends(may_change)]
Field = Annotated[str, Form(pattern=f"^[^{NUL}]*$", max_length=200)]


@dataclass(frozen=True, slots=True)
class FeedRow:
    """A series of the market. `gaps`: what of the month is missing, in words; "" when nothing is."""

    id: str
    name: str
    gaps: str
    fault: str


async def feed_rows(central: Central, site: Site, month: Month, now: datetime) -> tuple[FeedRow, ...]:
    """The feeds in the site's currency, and what they lack of the month so far."""
    zone = ZoneInfo(site.time_zone)
    start, end = month.bounds(zone)
    rows = []
    for feed in await every(central.market.list_feeds):
        if feed.currency.code != site.currency:
            continue
        until = min(end, now)
        gaps = await central.market.gaps(feed.id, start, until) if until > start else ()
        told = [
            f"{gap.start.astimezone(zone):%d %b %H:%M} to {gap.end.astimezone(zone):%d %b %H:%M}"
            for gap in gaps
        ]
        rows.append(FeedRow(feed.id, feed.name, some(told), feed.fault))
    return tuple(rows)


@router.post("/{site_id}/prices/send")
async def send(
    request: Request,
    site: ThisSite,
    _own: MayChange,
    month: Field,
    feed_id: Field,
    document: Annotated[UploadFile, File()],
) -> Response:
    """A price document, as the market gives it or as lines; sessions that waited for it are priced."""
    central = central_of(request)
    address = address_of(site.id, month, "#market")
    try:
        raw = await document.read()
        if not raw:
            raise InvalidInput("document", "choose a file first")
        taken = await central.market.take_in(feed_id, raw, document.filename or "sent by the page")
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    if not taken.new:
        return back_to(address, notice="That document was there already.")
    zone = ZoneInfo(site.time_zone)
    first, last = (at.astimezone(zone) for at in (taken.document.start, taken.document.end))
    text = (
        f"Prices from {first:%d %b %H:%M} to {last:%d %b %Y %H:%M} are kept; what waited for them is priced."
    )
    return back_to(address, notice=text)


@router.post("/{site_id}/prices/again")
async def again(request: Request, site: ThisSite, _own: MayChange, month: Field) -> Response:
    """Price what has no price by the tariffs and prices that are there now."""
    central = central_of(request)
    address = address_of(site.id, month)
    try:
        unpriced = (await central.ledger.issuing.preview(site.id, month)).unpriced
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    refused = {}
    for session_id, _ in unpriced:
        try:
            await central.pricing.price_again(session_id)
        except Conflict as error:
            refused[session_id] = str(error)
    done = count(len(unpriced) - len(refused), "session")
    if refused:
        reason = next(iter(refused.values())).rstrip(".")
        text = f"{done} priced; {count(len(refused), 'session')} not, the first because: {reason}."
        return back_to(address, problem=text)
    return back_to(address, notice=f"{done} priced.")
