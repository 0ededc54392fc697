"""`/v1/reports`: the reports of `api.reports`, as JSON and CSV."""

from collections.abc import Awaitable, Callable
from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, PlainTextResponse, Response

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Ident, Output
from api.reports import REPORTS, ReportKind

router = APIRouter(prefix="/reports", tags=["reports"], route_class=GuardedRoute)


class Format(StrEnum):
    """How a report is written."""

    JSON = "json"
    CSV = "csv"


class ReportOut(Output):
    """A report there is: its name in the path, and what it may have a row for."""

    id: str
    title: str
    by: list[str]


class ReportsOut(Output):
    """All reports."""

    items: list[ReportOut]


class CsvResponse(PlainTextResponse):
    """A table (RFC 4180)."""

    media_type = "text/csv"


_WRITTEN: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "The report; amounts are decimal text",
        "content": {
            "application/json": {"schema": {"type": "object"}},
            "text/csv": {"schema": {"type": "string"}},
        },
    }
}


@router.get("", response_model=ReportsOut)
async def list_reports() -> dict[str, list[dict[str, object]]]:
    """The reports there are."""
    return {"items": [{"id": kind.id, "title": kind.title, "by": list(kind.by)} for kind in REPORTS]}


def _route(kind: ReportKind) -> Callable[..., Awaitable[Response]]:
    """The function behind `/v1/reports/KIND`."""
    choices = "|".join(kind.by)

    async def report(
        central: TheCentral,
        site: Annotated[Ident, Query()],
        month: Annotated[str, Query(pattern=r"^\d{4}-\d{2}$", examples=["2026-11"])],
        by: Annotated[str, Query(pattern=f"^({choices})$")] = kind.by[0].value,
        format: Format = Format.JSON,
    ) -> Response:
        made = await kind.run(central, site, month, by)
        if format is Format.JSON:
            return JSONResponse(made.as_json())
        name = f"{kind.id}-{month}-by-{by}.csv"
        return CsvResponse(made.as_csv(), headers={"Content-Disposition": f'attachment; filename="{name}"'})

    report.__doc__ = f"{kind.title}: one site and month, a row for each {choices.replace('|', ', ')}."
    return report


for _kind in REPORTS:
    router.add_api_route(
        f"/{_kind.id}",
        _route(_kind),
        methods=["GET"],
        name=f"report_{_kind.id}",
        response_class=Response,
        responses=_WRITTEN,
    )
