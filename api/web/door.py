"""Signing in and out."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Cookie, Depends, Form, Request
from fastapi.responses import Response

from api.auth import COOKIE
from api.web.desk import SignInFirst, back_to, central_of, own_form, page
from api.web.page_route import PageRoute
from csms.access.people.service import Refusal, SignIn

router = APIRouter(include_in_schema=False, route_class=PageRoute)

WORDS = {
    Refusal.WRONG: "That name and password do not go together.",
    Refusal.TOO_MANY: "Too many tries for this name. Wait some minutes, then try again.",
}


def own_address(address: str) -> str:
    """`address` if it is one of our own pages, else the first page (no sending people elsewhere).

    Browsers read a backslash as a slash and leave out control characters (WHATWG URL, 4.4).
    """
    plain = address.isprintable() and "\\" not in address
    return address if plain and address.startswith("/") and not address.startswith("//") else "/"


@router.get("/sign-in")
async def ask(request: Request, next: str = "/") -> Response:
    return page(request, "sign_in.html", {"next": own_address(next), "name": ""})


@router.post("/sign-in")
async def sign_in(
    request: Request,
    name: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
    next: Annotated[str, Form()] = "/",
) -> Response:
    outcome = await central_of(request).people.sign_in(name, password)
    if isinstance(outcome, Refusal):
        values = {"next": own_address(next), "name": name[:80]}
        return page(request, "sign_in.html", values, status=401, problem=WORDS[outcome])
    response = back_to(own_address(next))
    secure = request.url.scheme == "https"
    response.set_cookie(COOKIE, outcome.secret, httponly=True, samesite="lax", secure=secure)
    return response


@router.post("/sign-out")
async def sign_out(
    request: Request,
    _own: Annotated[SignIn, Depends(own_form)],
    secret: Annotated[str | None, Cookie(alias=COOKIE)] = None,
) -> Response:
    if secret:
        await central_of(request).people.sign_out(secret)
    response = back_to("/sign-in", notice="You are signed out.")
    response.delete_cookie(COOKIE)
    return response


async def send_to_the_door(request: Request, error: Exception) -> Response:
    """Handler of SignInFirst."""
    assert isinstance(error, SignInFirst)
    return back_to(f"/sign-in?next={quote(error.address, safe='/')}")
