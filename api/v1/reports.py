"""`/v1/reports`: the reports of `api.reports`, as JSON, CSV, XLSX and a chart."""

import inspect
from collections.abc import Awaitable, Callable
from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import Central, TheCentral
from api.fields import Ident, Output
from api.reports import REPORTS, Report, ReportKind
from api.reports.chart import draw
from api.reports.kind import Ask, Parameter
from api.reports.workbook import as_xlsx
from csms.errors import InvalidInput

router = APIRouter(prefix="/reports", tags=["reports"], route_class=GuardedRoute)

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
COMMON = ("site", "from", "to", "month", "format")
"""What every report may be asked besides its own parameters."""


class Format(StrEnum):
    """How a report is written."""

    JSON = "json"
    CSV = "csv"
    XLSX = "xlsx"
    SVG = "svg"


class ParameterOut(Output):
    """What a report may be asked besides site and period."""

    name: str
    title: str
    ask: Ask
    about: str
    choices: list[str]
    default: str | None
    required: bool


class ColumnOut(Output):
    """A column: its name in JSON and CSV, its title, its unit."""

    name: str
    title: str
    unit: str


class ReportOut(Output):
    """A report there is: its name in the path, its parameters and columns."""

    id: str
    title: str
    about: str
    by: list[str] = Field(description="The choices of the parameter `by`, if it has one")
    parameters: list[ParameterOut]
    columns: list[ColumnOut]
    longest_days: int


class ReportsOut(Output):
    """All reports."""

    items: list[ReportOut]
    formats: list[Format]


class CsvResponse(PlainTextResponse):
    """A table (RFC 4180)."""

    media_type = "text/csv"


_WRITTEN: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "The report; amounts are decimal text",
        "content": {
            "application/json": {"schema": {"type": "object"}},
            "text/csv": {"schema": {"type": "string"}},
            XLSX: {"schema": {"type": "string", "format": "binary"}},
            "image/svg+xml": {"schema": {"type": "string"}},
        },
    }
}


@router.get("", response_model=ReportsOut)
async def list_reports() -> dict[str, object]:
    """The reports there are, and what each may be asked."""
    return {"items": [_listed(kind) for kind in REPORTS], "formats": list(Format)}


def _listed(kind: ReportKind) -> dict[str, object]:
    by = [parameter for parameter in kind.parameters if parameter.name == "by"]
    return {
        "id": kind.id,
        "title": kind.title,
        "about": kind.about,
        "by": list(by[0].choices) if by else [],
        "parameters": kind.parameters,
        "columns": kind.columns,
        "longest_days": kind.longest_days,
    }


def written(report: Report, name: str, format: Format) -> Response:
    """The report as somebody wants it; `name` is the file's without its ending."""
    if format is Format.JSON:
        return JSONResponse(report.as_json())
    headers = {"Content-Disposition": f'attachment; filename="{name}.{format}"'}
    if format is Format.CSV:
        return CsvResponse(report.as_csv(), headers=headers)
    if format is Format.XLSX:
        return Response(as_xlsx(report), media_type=XLSX, headers=headers)
    if report.chart is None:
        raise InvalidInput("format", "this report has no chart; ask for json, csv or xlsx")
    headers["Content-Security-Policy"] = "default-src 'none'"
    return Response(draw(report.chart), media_type="image/svg+xml", headers=headers)


def file_name(kind: ReportKind, times: tuple[str | None, str | None, str | None], by: str | None) -> str:
    """`month-2026-11-by-station`, with nothing in it that a path could mean."""
    start, end, month = times
    parts = [kind.id, *([month] if month else [str(start)[:10], str(end)[:10]])]
    if by is not None:
        parts += ["by", by]
    return "-".join(parts)


def _route(kind: ReportKind) -> Callable[..., Awaitable[Response]]:
    """The function behind `/v1/reports/KIND`, with the report's own parameters in its signature."""

    async def report(central: Central, request: Request, **given: Any) -> Response:
        for name in request.query_params:
            if name not in COMMON and not any(name == known.name for known in kind.parameters):
                raise InvalidInput(name, f"the report {kind.id} has no such parameter; leave it out")
        times = (given["from_"], given["to"], given["month"])
        values = {known.name: given[known.name] for known in kind.parameters}
        made = await kind.make(central, given["site"], times, values)
        return written(made, file_name(kind, times, made.about.get("by")), given["format"])

    plain = inspect.Parameter.KEYWORD_ONLY
    day = "A day such as 2026-11-01 (local midnight) or an instant with its zone"
    parameters = [
        inspect.Parameter("central", plain, annotation=TheCentral),
        inspect.Parameter("request", plain, annotation=Request),
        inspect.Parameter("site", plain, annotation=Annotated[Ident, Query()]),
        inspect.Parameter(
            "from_",
            plain,
            default=None,
            annotation=Annotated[str | None, Query(alias="from", max_length=40, description=day)],
        ),
        inspect.Parameter(
            "to",
            plain,
            default=None,
            annotation=Annotated[
                str | None, Query(max_length=40, description=f"{day}; the first that does not count")
            ],
        ),
        inspect.Parameter(
            "month",
            plain,
            default=None,
            annotation=Annotated[
                str | None,
                Query(pattern=r"^\d{4}-\d{2}$", examples=["2026-11"], description="Instead of from and to"),
            ],
        ),
        *(
            inspect.Parameter(known.name, plain, default=known.default, annotation=_annotation(known))
            for known in kind.parameters
        ),
        inspect.Parameter("format", plain, default=Format.JSON, annotation=Format),
    ]
    report.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    report.__annotations__ = {each.name: each.annotation for each in parameters}
    report.__doc__ = kind.about
    return report


def _annotation(known: Parameter) -> Any:
    """How a parameter is told to those who read the OpenAPI document."""
    if known.ask is Ask.CHOICE:
        return Annotated[str, Query(pattern=f"^({'|'.join(known.choices)})$", description=known.about)]
    if known.required:
        return Annotated[str | None, Query(max_length=40, description=f"Required: {known.about}")]
    return Annotated[str | None, Query(max_length=48, description=known.about)]


for _kind in REPORTS:
    router.add_api_route(
        f"/{_kind.id}",
        _route(_kind),
        methods=["GET"],
        name=f"report_{_kind.id}",
        response_class=Response,
        responses=_WRITTEN,
    )
