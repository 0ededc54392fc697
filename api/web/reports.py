"""The page Reports: the list, a form with the period, the table with its chart, and the files."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.reports import REPORTS, ReportKind
from api.reports.chart import draw
from api.reports.kind import Ask
from api.web import reports_view
from api.web.desk import central_of, page
from api.web.names import names_of, pages_of
from api.web.page_route import PageRoute
from api.web.site import ThisSite
from csms.errors import InvalidInput, NotFound
from csms.sites.model import Site
from csms.store.paging import every

router = APIRouter(prefix="/reports", include_in_schema=False, route_class=PageRoute)

FORMATS = (("csv", "CSV"), ("xlsx", "XLSX"), ("svg", "Chart (SVG)"), ("json", "JSON"))
TIMES = ("month", "from", "to")
LONGEST = 60


@router.get("/{site_id}")
async def listed(request: Request, site: ThisSite) -> Response:
    """What reports there are."""
    values = {"site": site, "kinds": REPORTS, "month": _this_month(request, site)}
    return page(request, "reports.html", values, current="Reports", pages=pages_of(site.id))


@router.get("/{site_id}/{name}")
async def one(request: Request, site: ThisSite, name: str) -> Response:
    """One report; without a period its form alone, with the month that runs filled in."""
    kind = next((kind for kind in REPORTS if kind.id == name), None)
    if kind is None:
        raise NotFound("report", name)
    central = central_of(request)
    given = {key: value.strip()[:LONGEST] for key, value in request.query_params.items() if value.strip()}
    asked = any(key in given for key in TIMES)
    values: dict[str, Any] = {
        "site": site,
        "kind": kind,
        "given": given,
        "month": given.get("month", "" if asked else _this_month(request, site)),
        "fields": await _fields(request, site, kind, given),
        "report": None,
    }
    problem, status = "", 200
    if asked:
        times = (given.get("from"), given.get("to"), given.get("month"))
        more = {key: value for key, value in given.items() if key not in TIMES}
        try:
            report = await kind.make(central, site.id, times, more)
        except (InvalidInput, NotFound) as error:
            problem, status = f"No report: {str(error).rstrip('.')}.", 422
        else:
            values |= {
                "report": report,
                "table": reports_view.table(report),
                # Put in as it is: ours from first to last, and escaped where it shows texts.
                "chart": draw(report.chart) if report.chart else "",
                "files": [
                    (title, reports_view.address(kind.id, site.id, given, format))
                    for format, title in FORMATS
                ],
            }
    return page(
        request,
        "report.html",
        values,
        current="Reports",
        pages=pages_of(site.id),
        problem=problem,
        status=status,
    )


def _this_month(request: Request, site: Site) -> str:
    """The month that runs at the site."""
    return f"{central_of(request).clock.now().astimezone(ZoneInfo(site.time_zone)):%Y-%m}"


async def _fields(
    request: Request, site: Site, kind: ReportKind, given: Mapping[str, str]
) -> list[reports_view.FormField]:
    central = central_of(request)
    names: dict[Ask, dict[str, str]] = {}
    if any(parameter.ask is Ask.CIRCUIT for parameter in kind.parameters):
        names[Ask.CIRCUIT] = (await names_of(central, site)).circuits
    if any(parameter.ask is Ask.MEMBER for parameter in kind.parameters):
        members = await every(central.members.list, site_id=site.id)
        names[Ask.MEMBER] = {member.id: member.name for member in members}
    return [
        reports_view.field(parameter, given.get(parameter.name, ""), names.get(parameter.ask, {}))
        for parameter in kind.parameters
    ]
