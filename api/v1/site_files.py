"""`/v1/sites/import` and `/v1/sites/{id}/export`: a site as one YAML file."""

from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Output
from csms.errors import InvalidInput
from csms.sitefile.findings import Severity

router = APIRouter(prefix="/sites", tags=["sites"], route_class=GuardedRoute)

MEDIA_TYPE = "application/yaml"
"""RFC 9512."""

_BODY = {"requestBody": {"required": True, "content": {MEDIA_TYPE: {"schema": {"type": "object"}}}}}
_FILE: dict[int | str, dict[str, Any]] = {
    200: {"description": "The site's file", "content": {MEDIA_TYPE: {"schema": {"type": "object"}}}}
}


class FindingOut(Output):
    """What the check says that makes nothing unsafe: something to look at, or to know."""

    severity: Severity
    line: int
    column: int
    path: str
    text: str


class ImportedOut(Output):
    """`touched`: what is new or changed. `untouched`: what the site has and the file does not name."""

    site_id: str
    touched: list[str]
    untouched: list[str]
    findings: list[FindingOut] = Field(description="Hints and notes of the site check")


@router.post("/import", openapi_extra=_BODY)
async def bring_in(central: TheCentral, request: Request) -> ImportedOut:
    """Create what is new in the file and update what is not; all of it or nothing. What the file does not
    name stays. An unsafe site is refused, with the line and column of every fault."""
    try:
        text = (await request.body()).decode()
    except UnicodeDecodeError:
        raise InvalidInput("body", "is not UTF-8 text") from None
    done = await central.site_files.bring_in(text)
    return ImportedOut(
        site_id=done.site_id,
        touched=list(done.touched),
        untouched=list(done.untouched),
        findings=[
            FindingOut(
                severity=each.severity,
                line=each.place.line,
                column=each.place.column,
                path=each.path,
                text=each.text,
            )
            for each in done.report.findings
        ],
    )


@router.get("/{site_id}/export", response_class=Response, responses=_FILE)
async def write_out(central: TheCentral, site_id: Id) -> Response:
    """The site as a file that the import takes."""
    return Response(await central.site_files.write_out(site_id), media_type=MEDIA_TYPE)
