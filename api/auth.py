"""Who asks, found out before a byte of the body is read.

A program sends `Authorization: Bearer py_…`. A browser that has signed in to the pages sends the
cookie; with a cookie, writing also needs the form token in `X-Form-Token`, so that a page of
somebody else cannot press our buttons (cross-site request forgery).
"""

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

from fastapi import Depends, Request, Response, Security
from fastapi.routing import APIRoute
from fastapi.security import HTTPBearer
from starlette.exceptions import HTTPException
from starlette.types import Receive

from csms.access.keys.service import KeysService
from csms.access.people.principal import Principal
from csms.access.people.service import PeopleService

COOKIE = "phaseyard_sign_in"
FORM_TOKEN_HEADER = "X-Form-Token"  # noqa: S105 - the name of a header
READS = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY = 1 << 20
"""Bytes; a tariff, the largest thing that anybody sends, has a few thousand."""

bearer = Security(
    HTTPBearer(auto_error=False, scheme_name="key", description="`phaseyard key create --name N` makes one")
)
"""Only says so in the OpenAPI document; `GuardedRoute` does the work."""


async def who(request: Request, keys: KeysService, people: PeopleService) -> Principal:
    """Who asks. Raises 401 when that is not known, 403 when a form token is missing."""
    scheme, _, secret = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        principal = await keys.check(secret.strip())
        if principal is not None:
            return principal
        raise _unauthorized("this key is not known or revoked")
    if cookie := request.cookies.get(COOKIE):
        sign_in = await people.check(cookie)
        if sign_in is None:
            raise _unauthorized("the sign-in has ended; sign in again")
        if request.method not in READS and request.headers.get(FORM_TOKEN_HEADER) != sign_in.form_token:
            raise HTTPException(403, f"send the form token of this sign-in in {FORM_TOKEN_HEADER}")
        return sign_in.principal
    raise _unauthorized("send a key: Authorization: Bearer py_…")


def _unauthorized(detail: str) -> HTTPException:
    return HTTPException(401, detail, {"WWW-Authenticate": 'Bearer realm="phaseyard"'})


class LimitedRequest(Request):
    """A request whose body ends at LARGEST_BODY bytes."""

    def __init__(self, request: Request) -> None:
        super().__init__(request.scope, _limited(request.receive))


def _limited(receive: Receive) -> Receive:
    taken = 0

    async def limited() -> Any:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST_BODY:
            raise HTTPException(413, f"the body is larger than {LARGEST_BODY} bytes")
        return message

    return limited


class GuardedRoute(APIRoute):
    """A route for those with a key only, and for managers only where something is written."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()

        async def guarded(request: Request) -> Response:
            central = request.app.state.central
            principal = await who(request, central.keys, central.people)
            if request.method not in READS and not principal.role.may_write:
                raise HTTPException(403, f"{principal} may only read")
            request.state.principal = principal
            return await handle(self.limited(request))

        return guarded

    def limited(self, request: Request) -> Request:
        """The request with a body that ends somewhere."""
        return LimitedRequest(request)


class LargeBodyRoute(GuardedRoute):
    """For files: whoever takes the body counts it."""

    def limited(self, request: Request) -> Request:
        return request


def _principal(request: Request) -> Principal:
    found: Principal = request.state.principal
    return found


Asking = Annotated[Principal, Depends(_principal)]
"""Who asks, for routes that write it down."""
