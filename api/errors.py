"""Every refusal as RFC 9457 `application/problem+json`.

`code` is stable and meant for machines, `detail` for people. `type` is `about:blank`, so by the
RFC `title` is the status' own phrase. Our own exceptions get their status here:

InvalidInput    422     with `field`, or `errors` when several fields are wrong
NotFound        404
Conflict        409
StationOffline  409     the station is not connected and nothing was sent: repeat when it is
StationSilent   504     it did not answer; whether it acted is unknown
anything else   500     logged with its trace; the answer says nothing of our insides
"""

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from csms.errors import (
    Conflict,
    InvalidInput,
    ManyInvalid,
    NotFound,
    PhaseyardError,
    StationOffline,
    StationSilent,
)

log = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"

STATUSES: tuple[tuple[type[PhaseyardError], int], ...] = (
    (InvalidInput, 422),
    (NotFound, 404),
    (Conflict, 409),
    (StationOffline, 409),
    (StationSilent, 504),
)


class FieldProblem(BaseModel):
    """One value that is wrong: its path, and what to do about it."""

    field: str
    problem: str


class Problem(BaseModel):
    """Why something was refused (RFC 9457)."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    code: str = Field(description="Stable, for machines")
    field: str | None = Field(default=None, description="Path of the one value that is wrong")
    errors: list[FieldProblem] | None = Field(default=None, description="All values that are wrong")


class ProblemResponse(JSONResponse):
    """A problem as it goes out."""

    media_type = MEDIA_TYPE


def problem(
    status: int,
    code: str,
    detail: str,
    *,
    field: str | None = None,
    errors: list[FieldProblem] | None = None,
    headers: Mapping[str, str] | None = None,
) -> ProblemResponse:
    """The answer for a refusal."""
    content = Problem(
        title=HTTPStatus(status).phrase, status=status, detail=detail, code=code, field=field, errors=errors
    )
    return ProblemResponse(content.model_dump(exclude_none=True), status, dict(headers or {}))


def described(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """What the OpenAPI document says of these refusals."""
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        status: {"description": HTTPStatus(status).phrase, "content": {MEDIA_TYPE: {"schema": schema}}}
        for status in statuses
    }


def install(app: FastAPI) -> None:
    """Make `app` answer with problems only."""
    app.add_exception_handler(PhaseyardError, _ours)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _unexpected)


async def _ours(request: Request, error: Exception) -> ProblemResponse:
    for kind, status in STATUSES:
        if isinstance(error, kind):
            field = error.field if isinstance(error, InvalidInput) else None
            errors = None
            if isinstance(error, InvalidInput):
                faults = error.faults if isinstance(error, ManyInvalid) else ((error.field, error.problem),)
                errors = [FieldProblem(field=name, problem=text) for name, text in faults]
                field = field if len(faults) == 1 else None
            text = error.problem if isinstance(error, Conflict) else str(error)
            return problem(status, kind.code, text, field=field, errors=errors)
    return await _unexpected(request, error)


async def _invalid(_: Request, error: Exception) -> ProblemResponse:
    assert isinstance(error, RequestValidationError)
    errors = [
        FieldProblem(field=_path(fault["loc"], str(fault["type"])), problem=_text(fault))
        for fault in error.errors()
    ]
    first = errors[0]
    return problem(
        422,
        InvalidInput.code,
        f"{first.field}: {first.problem}",
        field=first.field if len(errors) == 1 else None,
        errors=errors,
    )


async def _http(_: Request, error: Exception) -> ProblemResponse:
    assert isinstance(error, HTTPException)
    phrase = HTTPStatus(error.status_code).phrase
    code = phrase.lower().replace(" ", "-")
    return problem(error.status_code, code, str(error.detail), headers=error.headers)


async def _unexpected(request: Request, error: Exception) -> ProblemResponse:
    log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return problem(500, "our-fault", "a fault on our side; it is in the server's log")


def _path(location: tuple[int | str, ...], kind: str) -> str:
    """`limit_a.L1` for ("body", "limit_a", "L1"); a body that is no JSON is `body` itself."""
    if kind == "json_invalid":
        return "body"
    parts = location[1:] if location and location[0] in ("body", "query", "path", "header") else location
    return ".".join(str(part) for part in parts) or "body"


def _text(fault: Mapping[str, Any]) -> str:
    if fault["type"] == "json_invalid":
        return f"is not JSON: {fault['ctx']['error']} at character {fault['loc'][-1]}"
    if fault["type"] == "extra_forbidden":
        return "there is no such field here; remove it"
    if fault["type"] == "missing":
        return "is missing; give a value"
    text = str(fault["msg"]).removeprefix("Value error, ")
    return text[:1].lower() + text[1:]
