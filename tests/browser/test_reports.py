"""The page Reports in a real browser: from the list to the figures, without script, and for everybody."""

import csv
import io
from typing import Any

import pytest
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Page, expect

from tests.browser.visit import NARROW, WIDE, Visit

PAGE = "/reports/weavers-yard"
WITHIN_MS = 60_000


async def sound(page: Page) -> None:
    """No fault that axe-core (Deque; WCAG 2) finds, and nothing wider than the window."""
    results: Any = await Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    assert await page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


async def test_from_the_list_to_a_file_without_script(visit: Visit) -> None:
    page = await visit.signed_in(script=False)
    await page.get_by_role("link", name="Reports", exact=True).click()
    await page.get_by_role("link", name="Energy and cost", exact=True).click()
    await page.get_by_label("A row for each").select_option("charger")
    await page.get_by_role("button", name="Show").click()
    await expect(page.get_by_role("heading", name="Energy and cost by charger")).to_be_visible()
    await expect(page.locator("table.report tbody tr.total")).to_have_count(1)
    await expect(page.get_by_role("img", name="Energy by charger, kWh")).to_be_visible()
    async with page.expect_download() as waiting:
        await page.get_by_role("link", name="CSV").click()
    path = await (await waiting.value).path()
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert rows[-1]["row"] == "total"
    assert int(rows[-1]["energy_wh"]) == sum(int(row["energy_wh"]) for row in rows[:-1])


@pytest.mark.parametrize(("scheme", "width"), [("light", WIDE), ("dark", NARROW)])
async def test_nothing_hides_from_assistive_technology(visit: Visit, scheme: str, width: int) -> None:
    page = await visit.signed_in(width=width, scheme=scheme)
    await page.goto(visit.url + PAGE)
    await sound(page)
    for name in ("load", "utilisation", "reimbursement"):
        await page.goto(f"{visit.url}{PAGE}/{name}")
        if name == "reimbursement":
            await page.get_by_label("Rate per kWh").fill("0.30")
        await page.get_by_role("button", name="Show").click()
        await expect(page.locator(".chart svg")).to_be_visible(timeout=WITHIN_MS)
        await sound(page)


async def test_a_report_that_cannot_be_says_why(visit: Visit) -> None:
    page = await visit.signed_in()
    await page.goto(f"{visit.url}{PAGE}/energy?month=2026-13")
    await expect(page.get_by_role("alert")).to_contain_text("month: must be a year and a month")
    await expect(page.get_by_role("textbox", name="Month")).to_have_value("2026-13")
    visit.complaints.clear()  # a browser notes the status 422
