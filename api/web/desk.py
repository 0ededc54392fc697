"""What every page needs: who is there, whether a form is theirs, and how a page is made."""

import secrets
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote, unquote
from zoneinfo import ZoneInfo

from fastapi import Cookie, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context

from api.auth import COOKIE
from csms.access.people.service import SignIn
from csms.app import Central

FOLDER = Path(__file__).parent

_templates = Environment(
    loader=FileSystemLoader(FOLDER / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


class SignInFirst(Exception):
    """Nobody is signed in; the door asks for it and then comes back to `address`."""

    def __init__(self, address: str) -> None:
        super().__init__(address)
        self.address = address


class ForeignForm(Exception):
    """A form without the token of this sign-in: another site may have sent it."""


class OnlyLooks(Exception):
    """Somebody who may only look has sent a form that changes something."""


def central_of(request: Request) -> Central:
    central: Central = request.app.state.central
    return central


async def signed_in(request: Request, secret: Annotated[str | None, Cookie(alias=COOKIE)] = None) -> SignIn:
    """The sign-in of the request. Raises SignInFirst."""
    found = await central_of(request).people.check(secret) if secret else None
    if found is None:
        raise SignInFirst(request.url.path if request.method == "GET" else "/")
    request.state.sign_in = found
    return found


async def own_form(
    sign_in: Annotated[SignIn, Depends(signed_in)], form_token: Annotated[str, Form()] = ""
) -> SignIn:
    """The sign-in of a form that it really sent. Raises ForeignForm."""
    if not secrets.compare_digest(form_token.encode(), sign_in.form_token.encode()):
        raise ForeignForm
    return sign_in


async def may_change(sign_in: Annotated[SignIn, Depends(own_form)]) -> SignIn:
    """The sign-in of a form of somebody who may change things. Raises OnlyLooks."""
    if not sign_in.principal.role.may_write:
        raise OnlyLooks
    return sign_in


@pass_context
def _moment(context: Context, at: datetime) -> str:
    """Date and time of day at the site."""
    return _at_site(context, at).strftime("%Y-%m-%d %H:%M:%S")


@pass_context
def _minute(context: Context, at: datetime) -> str:
    """Day and time at the site, for what is not long ago."""
    return _at_site(context, at).strftime("%d %b %H:%M")


@pass_context
def _hour(context: Context, at: datetime) -> str:
    """Time of day at the site."""
    return _at_site(context, at).strftime("%H:%M:%S")


def _at_site(context: Context, at: datetime) -> datetime:
    return at.astimezone(ZoneInfo(context["zone"]))


_templates.filters.update(moment=_moment, minute=_minute, hour=_hour)


def render(template: str, **values: Any) -> str:
    """`template` filled in; `zone` is the site's time zone where it shows times."""
    return _templates.get_template(template).render(**values)


def page(
    request: Request,
    template: str,
    values: Mapping[str, Any],
    *,
    current: str = "",
    pages: tuple[tuple[str, str], ...] = (),
    status: int = 200,
    problem: str = "",
) -> Response:
    """A whole page, with what the last form has said on top."""
    sign_in: SignIn | None = getattr(request.state, "sign_in", None)
    html = render(
        template,
        person=sign_in.principal if sign_in else None,
        form_token=sign_in.form_token if sign_in else "",
        pages=pages,
        current=current,
        notice=unquote(request.cookies.get(NOTICE, "")),
        problem=problem or unquote(request.cookies.get(PROBLEM, "")),
        **values,
    )
    response = HTMLResponse(html, status_code=status)
    for name in (NOTICE, PROBLEM):
        if name in request.cookies:
            response.delete_cookie(name)
    return response


def back_to(address: str, *, notice: str = "", problem: str = "") -> Response:
    """Done: see `address`, with a sentence on top.

    The sentence travels in a cookie and not in the address, where anybody could write it.
    """
    response = RedirectResponse(address, status_code=303)
    for name, text in ((NOTICE, notice), (PROBLEM, problem)):
        if text:
            kept = quote(text[:LONGEST_SENTENCE])
            response.set_cookie(name, kept, max_age=60, httponly=True, samesite="lax")
    return response


NOTICE, PROBLEM = "phaseyard_notice", "phaseyard_problem"
LONGEST_SENTENCE = 300
