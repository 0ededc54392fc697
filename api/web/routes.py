"""Puts the pages onto the application."""

from fastapi import FastAPI, Request
from fastapi.responses import Response
from fastapi.staticfiles import StaticFiles

from api.web import access, alarms, door, month, month_entries, month_files, month_prices, reports, site
from api.web.desk import FOLDER, ForeignForm, OnlyLooks, SignInFirst
from api.web.door import send_to_the_door
from api.web.page_route import refused
from api.web.panels import Panels

PAGES = (
    door.router,
    site.router,
    access.router,
    alarms.router,
    month_files.router,
    month_entries.router,
    month_prices.router,
    month.router,
    reports.router,
)


async def refuse_foreign(request: Request, _error: Exception) -> Response:
    """Handler of ForeignForm."""
    text = "This form is not of your present sign-in. Load the page anew and send it again."
    return refused(request, 403, "Not done", text)


async def refuse_onlooker(request: Request, _error: Exception) -> Response:
    """Handler of OnlyLooks."""
    return refused(request, 403, "Not done", "You may look, but not change anything.")


def add_pages(app: FastAPI) -> None:
    """Pages, their forms and their files. `app.state.central` is there."""
    app.state.panels = Panels(app.state.central)
    app.add_exception_handler(SignInFirst, send_to_the_door)
    app.add_exception_handler(ForeignForm, refuse_foreign)
    app.add_exception_handler(OnlyLooks, refuse_onlooker)
    app.mount("/static", StaticFiles(directory=FOLDER / "static"), name="static")
    for router in PAGES:
        app.include_router(router)
