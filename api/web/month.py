"""The page Month: a month's close for the treasurer, step by step, and its issue."""

import hashlib
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import Response

from api.web import month_rows, month_view
from api.web.addresses import address_of
from api.web.desk import back_to, central_of, may_change, page
from api.web.month_prices import feed_rows
from api.web.names import names_of, pages_of
from api.web.page_route import NUL, PageRoute
from api.web.site import SignedIn, ThisSite
from csms.access.people.service import SignIn
from csms.app import Central
from csms.documents.language import Language
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.issuing.issued import Run
from csms.ledger.issuing.service import Preview
from csms.ledger.period import Month
from csms.ledger.proof import Name
from csms.ledger.terms import Terms
from csms.sessions.session import SessionFilter
from csms.sites.model import Site
from csms.store.paging import every

router = APIRouter(prefix="/month", include_in_schema=False, route_class=PageRoute)

MayChange = Annotated[SignIn, Depends(may_change)]
Field = Annotated[str, Form(pattern=f"^[^{NUL}]*$", max_length=4000)]
Chosen = Annotated[str, Query(max_length=7)]

LANGUAGES = [(language.value, language.name.capitalize()) for language in Language]
LATEST_REGISTERS = 6


@dataclass(frozen=True, slots=True)
class Close:
    """Where a site's months are. `terms` None: nobody has said yet who issues."""

    site: Site
    terms: Terms | None
    month: Month
    runs: dict[Month, Run]

    @property
    def run(self) -> Run | None:
        return self.runs.get(self.month)

    @property
    def address(self) -> str:
        return address_of(self.site.id, str(self.month))


async def close_of(central: Central, site: Site, chosen: str) -> Close:
    """The month that is asked for, else the one that is due. Raises InvalidInput (`month`)."""
    try:
        terms = await central.ledger.billing.terms(site.id)
    except NotFound:
        terms = None
    runs = {Month.parse(run.period): run for run in await every(central.ledger.issuing.runs, site_id=site.id)}
    today = central.clock.now().astimezone(ZoneInfo(site.time_zone)).date()
    first = Month.parse(terms.first_month) if terms else None
    due = month_view.months(first, runs, today)[0][0]
    return Close(site, terms, Month.parse(chosen, "month") if chosen else due, runs)


@router.get("/{site_id}")
async def show(request: Request, site: ThisSite, sign_in: SignedIn, month: Chosen = "") -> Response:
    central = central_of(request)
    try:
        close = await close_of(central, site, month)
    except InvalidInput as error:
        raise NotFound("month", error.problem) from None
    first = Month.parse(close.terms.first_month) if close.terms else None
    today = central.clock.now().astimezone(ZoneInfo(site.time_zone)).date()
    values: dict[str, Any] = {
        "site": site,
        "zone": site.time_zone,
        "title": month_view.month_name(close.month),
        "month": str(close.month),
        "months": [
            (str(each), month_view.month_name(each), done)
            for each, done in month_view.months(first, close.runs, today)
        ],
        "may_change": sign_in.principal.role.may_write,
        "terms": close.terms,
        "languages": LANGUAGES,
        "issued": close.run is not None,
        "prepared": False,
        **EMPTY,
    }
    problem = ""
    if close.run is not None:
        values |= await _issued(central, close, close.run)
    elif close.terms is not None:
        found, problem = await _preview(central, close)
        values |= await _entries(central, close)
        values |= await _steps(central, close, found, values["pools"]) if found else {}
    return page(request, "month.html", values, current="Month", pages=pages_of(site.id), problem=problem)


EMPTY: dict[str, Any] = {
    "steps": (),
    "stopped": (),
    "members": (),
    "checks": (),
    "pools": (),
    "feeds": (),
    "registers": (),
    "made": (),
    "progress": None,
    "sums": None,
    "unpriced": 0,
}


async def _preview(central: Central, close: Close) -> tuple[Preview | None, str]:
    try:
        return await central.ledger.issuing.preview(close.site.id, str(close.month)), ""
    except (Conflict, InvalidInput) as error:
        return None, f"No preview: {str(error).rstrip('.')}."


async def _entries(central: Central, close: Close) -> dict[str, Any]:
    """What the treasurer has entered, and the first values of the forms."""
    month, zone = close.month, ZoneInfo(close.site.time_zone)
    pools = await every(central.ledger.pools.list, site_id=close.site.id)
    registers = await every(central.ledger.pools.list_registers, site_id=close.site.id)
    latest = sorted(registers, key=lambda one: one.at, reverse=True)
    end = month.bounds(zone)[1].astimezone(zone)
    return {
        "pools": month_rows.pool_rows(pools, month),
        "registers": latest[:LATEST_REGISTERS],
        "keys": [(key.value, text) for key, text in month_rows.KEYS.items()],
        "first_day": month.first.isoformat(),
        "last_day": (month.after.first - timedelta(days=1)).isoformat(),
        "feeds": await feed_rows(central, close.site, month, central.clock.now()),
        "next_reading": end.strftime("%Y-%m-%dT%H:%M"),
    }


async def _steps(
    central: Central, close: Close, found: Preview, pools: tuple[month_rows.PoolRow, ...]
) -> dict[str, Any]:
    """What a month that is not issued yet would come to, and what stands in its way."""
    site, terms = close.site, close.terms
    assert terms is not None
    everything = (*found.credits, *found.anew, *found.statements)
    sums = month_rows.preview_sums(everything, site.currency)
    steps = (
        month_view.over(close.month, site.time_zone, central.clock.now()),
        month_view.readings(found.statements, *await _unread(central, close), site.id),
        month_view.prices(found.unpriced, terms.members_pay_sessions),
        month_view.invoices(
            pools,
            terms.members_pay_sessions,
            next(check for check in found.checks if check.name is Name.TREE),
        ),
        month_view.preview(sums, site.id),
        month_view.proof(found.checks),
    )
    return {
        "prepared": True,
        "steps": steps,
        "stopped": month_view.stopped_by(steps),
        "members": month_rows.preview_rows(everything),
        "sums": sums,
        "checks": month_rows.check_rows(found.checks),
        "unpriced": len(found.unpriced),
    }


async def _unread(central: Central, close: Close) -> tuple[list[str], int]:
    """Chargers whose session of the month is open, and reports that fit no session."""
    site = close.site
    end = close.month.bounds(ZoneInfo(site.time_zone))[1]
    running = await every(central.sessions.list, SessionFilter(site_id=site.id, to_at=end, open=True))
    stations = (await names_of(central, site)).stations
    orphans = [
        one
        for one in await every(central.sessions.orphans)
        if one.station_id in stations and one.resolved_at is None
    ]
    return [stations.get(one.station_id, one.station_id) for one in running], len(orphans)


async def _issued(central: Central, close: Close, run: Run) -> dict[str, Any]:
    """What went out with the month, and how far its documents are."""
    site, period = close.site, str(close.month)
    documents = await every(central.ledger.issuing.statements, run_id=run.id)
    of_month = await every(central.ledger.issuing.statements, site_id=site.id, period=period)
    documents = (*documents, *(one for one in of_month if one.run_id is None))
    progress = await central.documents.progress(site.id, period)
    made = {one.statement_id for one in await central.documents.of_month(site.id, period) if not one.problem}
    sums = month_rows.issued_sums(documents, site.currency)
    proved = month_rows.stored_checks(run.proof)
    return {
        "issued_at": run.issued_at,
        "steps": (month_view.issued(sums), month_view.proof(proved), month_view.documents(progress)),
        "checks": month_rows.check_rows(proved),
        "progress": progress,
        "made": made,
        "members": month_rows.issued_rows(documents, (await names_of(central, site)).all),
        "sums": sums,
    }


def fingerprint(found: Preview) -> str:
    """What was shown to the one who confirms: another sum, member or number makes another."""
    told = [
        (one.number, one.recipient.member_id, one.gross_minor)
        for one in (*found.credits, *found.anew, *found.statements)
    ]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]


@router.get("/{site_id}/confirm")
async def confirm(request: Request, site: ThisSite, month: Chosen) -> Response:
    """The sums once more, and the button that issues."""
    central = central_of(request)
    try:
        close = await close_of(central, site, month)
    except InvalidInput as error:
        raise NotFound("month", error.problem) from None
    if close.run is not None:
        return back_to(close.address, notice=f"{month_view.month_name(close.month)} is issued already.")
    if close.terms is None:
        return back_to(close.address, problem="Not yet: say first who issues.")
    found, problem = await _preview(central, close)
    if found is None:
        return back_to(close.address, problem=problem)
    told = await _steps(central, close, found, (await _entries(central, close))["pools"])
    if stopped := told["stopped"]:
        names = ", ".join(step.title.lower() for step in stopped)
        return back_to(close.address, problem=f"Steps not done yet: {names}.")
    everything = (*found.credits, *found.anew, *found.statements)
    values = {
        "site": site,
        "title": month_view.month_name(close.month),
        "month": str(close.month),
        "sums": told["sums"],
        "numbers": month_rows.numbers(everything),
        "notes": [finding for step in told["steps"] for finding in step.findings],
        "shown": fingerprint(found),
    }
    return page(request, "month_confirm.html", values, current="Month", pages=pages_of(site.id))


@router.post("/{site_id}/issue")
async def issue(request: Request, site: ThisSite, _own: MayChange, month: Field, shown: Field) -> Response:
    """Issue what was shown, and begin with its documents."""
    central = central_of(request)
    address = address_of(site.id, month)
    try:
        close = await close_of(central, site, month)
        if close.run is None:
            found = await central.ledger.issuing.preview(site.id, month)
            if fingerprint(found) != shown:
                text = "Not done: something has come in since, and the sums are others. Look at them again."
                return back_to(address, problem=text)
            await central.ledger.issuing.issue(site.id, month)
        progress = await central.documents.start(site.id, month)
    except (InvalidInput, NotFound, Conflict) as error:
        return back_to(address, problem=f"Not done: {str(error).rstrip('.')}.")
    name = month_view.month_name(close.month)
    text = f"{name} is issued: {month_view.count(progress.statements, 'document')}. They are being made."
    return back_to(address, notice=text)
