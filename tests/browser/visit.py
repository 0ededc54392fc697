"""One visit to the pages with a fresh browser profile."""

from typing import Any
from urllib.parse import urlsplit

from playwright.async_api import Browser, BrowserContext, ConsoleMessage, Page

from tools.weavers_yard.demo import PERSON, Demo

WIDE, NARROW = 1400, 420
SITE, ACCESS, ALARMS = "/sites/weavers-yard", "/access/weavers-yard", "/alarms/weavers-yard"


class Visit:
    """`complaints` are errors of the console and of scripts; `hosts` whom the pages have asked."""

    def __init__(self, browser: Browser, demo: Demo) -> None:
        self._browser = browser
        self.demo = demo
        self.url = demo.node.http_url
        self.complaints: list[str] = []
        self.hosts: set[str | None] = set()
        self._contexts: list[BrowserContext] = []

    async def __aenter__(self) -> "Visit":
        return self

    async def __aexit__(self, *_: object) -> None:
        for context in self._contexts:
            await context.close()

    async def page(self, *, width: int = WIDE, scheme: Any = "light", script: bool = True) -> Page:
        """A page of a browser that has been nowhere yet."""
        context = await self._browser.new_context(
            viewport={"width": width, "height": 1000}, color_scheme=scheme, java_script_enabled=script
        )
        self._contexts.append(context)
        page = await context.new_page()
        page.on("request", lambda request: self.hosts.add(urlsplit(request.url).hostname))
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        return page

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    async def signed_in(self, **kind: Any) -> Page:
        """On the page Site."""
        page = await self.page(**kind)
        await page.goto(self.url)
        await page.get_by_label("Name").fill(PERSON)
        await page.get_by_label("Password").fill(self.demo.password)
        await page.get_by_role("button", name="Sign in").click()
        await page.wait_for_url(f"**{SITE}")
        return page
