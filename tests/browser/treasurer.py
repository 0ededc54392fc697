"""The desk of a treasurer: a server whose January waits to be closed, and a browser before it."""

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.async_api import Browser, BrowserContext, Page

from api.node import Node
from csms.clock import ManualClock
from csms.settings import load_settings
from tools.weavers_yard import year
from tools.weavers_yard.year_books import YearBooks

NAME, PASSWORD = "treasurer", "warp and weft 1848"
MONTH = f"/month/{year.SITE}"


class Desk:
    """`complaints`: errors of the console and of scripts; `hosts`: whom the pages have asked."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._folder = tempfile.TemporaryDirectory()
        self._contexts: list[BrowserContext] = []
        clock = ManualClock(datetime(2025, 12, 20, tzinfo=UTC))
        settings = load_settings(data_dir=Path(self._folder.name), host="127.0.0.1", http_port=0, ocpp_port=0)
        self.node = Node(settings, clock)
        self.central = self.node.central
        early = [charge for charge in year.charges() if charge.started < year.month_start(2)]
        self._books = YearBooks(self.central, clock, early)
        self.complaints: list[str] = []
        self.hosts: set[str | None] = set()

    async def __aenter__(self) -> "Desk":
        await self.node.start()
        await self.central.people.create(NAME, PASSWORD)
        await self._books.found()
        await self._books.live(1)
        return self

    async def __aexit__(self, *_: object) -> None:
        for context in self._contexts:
            await context.close()
        await self.node.stop()
        self._folder.cleanup()

    async def page(self, *, width: int = 1400, scheme: Any = "light", script: bool = True) -> Page:
        """On the page Month, signed in, with a browser profile of its own."""
        context = await self._browser.new_context(
            viewport={"width": width, "height": 1000}, color_scheme=scheme, java_script_enabled=script
        )
        self._contexts.append(context)
        page = await context.new_page()
        page.on("request", lambda request: self.hosts.add(urlsplit(request.url).hostname))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on(
            "console",
            lambda said: self.complaints.append(said.text) if said.type in ("error", "warning") else None,
        )
        await page.goto(f"{self.node.http_url}/sign-in?next={MONTH}")
        await page.get_by_label("Name").fill(NAME)
        await page.get_by_label("Password").fill(PASSWORD)
        await page.get_by_role("button", name="Sign in").click()
        await page.wait_for_url(f"**{MONTH}")
        return page
