"""How the pages' addresses answer: with a page also when they refuse, and closed to foreign hands."""

from collections.abc import Callable, Coroutine, Mapping
from typing import Any

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException

from api.auth import LimitedRequest
from api.web.desk import page
from csms.errors import NotFound

HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; "
        "img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}
"""Only our own script and style, in nobody else's frame, kept by no cache."""


NUL = "\0"
"""PostgreSQL takes none in a text; nothing of ours has one."""


def refused(request: Request, status: int, title: str, problem: str) -> Response:
    """A plain page that says why something was not done or is not there."""
    response = page(request, "refused.html", {"title": title}, status=status, problem=problem)
    response.headers.update(HEADERS)
    return response


class PageRoute(APIRoute):
    """A route of the pages."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()

        async def answered(request: Request) -> Response:
            try:
                if NUL in request.scope["path"]:
                    raise NotFound("page", request.scope["path"].replace(NUL, "�"))
                response = await handle(LimitedRequest(request))
            except NotFound as error:
                return refused(request, 404, "Not here", f"There is no {error.kind} {str(error.key)[:80]}.")
            except RequestValidationError as error:
                field = ".".join(str(part) for part in error.errors()[0]["loc"][1:]) or "form"
                return refused(request, 422, "Not done", f"Not done: {field} is missing or wrong.")
            except HTTPException as error:
                return refused(request, error.status_code, "Not done", f"Not done: {error.detail}.")
            for name, value in HEADERS.items():
                response.headers.setdefault(name, value)
            return response

        return answered
