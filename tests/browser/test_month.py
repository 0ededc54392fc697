"""The page Month in a real browser: January of the invented year of Weavers' Yard is closed.

It has a server of its own, whose clock stands at noon of 3 February, so that the demo is left alone.
The tests follow each other as a treasurer would: look, enter, preview, confirm, issue, fetch.
"""

import asyncio
import io
import zipfile
from collections.abc import AsyncIterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pypdf
import pytest
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Browser, Page, expect

from csms.documents import typeset
from csms.documents.paper import paper
from csms.documents.sentence import voice_of
from tests.browser.treasurer import MONTH, Desk
from tools.weavers_yard import year

WITHIN_MS = 60_000


@pytest.fixture(scope="module")
async def desk(browser: Browser) -> AsyncIterator[Desk]:
    async with Desk(browser) as made:
        yield made
    assert made.complaints == []
    assert made.hosts == {"127.0.0.1"}, "a page has asked another machine"


async def no_violations(page: Page) -> None:
    results: Any = await Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    excess = await page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert excess <= 0, "the page is wider than the window"


async def fetched(page: Page, address: str) -> bytes:
    """What a link of the page gives, with the page's sign-in."""
    answer = await page.request.get(address)
    assert answer.ok, f"{address}: {answer.status}"
    return await answer.body()


@pytest.mark.parametrize(("width", "scheme"), [(1400, "light"), (420, "dark")])
async def test_nothing_hides_from_assistive_technology(desk: Desk, width: int, scheme: str) -> None:
    page = await desk.page(width=width, scheme=scheme)
    await expect(page.get_by_role("heading", name="January 2026")).to_be_visible()
    await expect(page.locator("ol.steps li.step")).to_have_count(6)
    await no_violations(page)
    await page.get_by_role("button", name="Go on to the issue").click()
    await no_violations(page)


async def test_a_step_that_is_blocked_leads_to_where_it_is_mended(desk: Desk) -> None:
    """The bound of losses is set below what the main meter counts; then it is set right again."""
    terms = await desk.central.ledger.billing.terms(year.SITE)
    await desk.central.ledger.billing.set_terms(year.SITE, replace(terms, loss_bound_percent=Decimal(1)))
    page = await desk.page()
    step = page.locator("#step-invoices")
    await expect(step).to_contain_text("Losses of 3.80 % are above the bound of 1 %")
    stopped = "Steps not done yet: invoices and main meter, proof."
    await expect(page.locator("#issue")).to_contain_text(stopped)
    await step.get_by_role("link", name="Enter its registers").click()
    await expect(page.get_by_role("heading", name="Main meter of the chargers")).to_be_in_viewport()
    await expect(page.locator("details[open] summary")).to_contain_text("Main meter, chargers, losses")
    await desk.central.ledger.billing.set_terms(year.SITE, terms)


async def test_an_invoice_is_entered_by_keyboard(desk: Desk) -> None:
    page = await desk.page()
    await page.get_by_label("What for").focus()
    for text in ("Cleaning of the garage", "Broom Ltd", "B-77", "1 000,00", "250,00", "25"):
        await page.keyboard.type(text)
        await page.keyboard.press("Tab")
    button = page.locator("section", has=page.locator("#invoices")).get_by_role(
        "button", name="Enter", exact=True
    )
    await button.focus()
    await page.keyboard.press("Enter")
    await expect(page.get_by_role("status")).to_have_text("The invoice Cleaning of the garage is entered.")
    row = page.locator(".pools tr", has_text="Cleaning of the garage")
    await expect(row).to_contain_text("1000.00")
    await row.get_by_role("button", name="Remove the invoice Cleaning of the garage").click()
    await expect(page.get_by_role("status")).to_have_text("The invoice is removed.")


async def test_a_preview_is_a_pdf_that_is_no_invoice_yet(desk: Desk) -> None:
    page = await desk.page()
    link = page.get_by_role("link", name="Preview of Flat 30 as PDF")
    address = await link.get_attribute("href")
    pdf = await fetched(page, f"{desk.node.http_url}{address}")
    text = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "Preview, not issued" in text
    assert "Flat 30" in text


async def test_pictures_for_the_readme(desk: Desk, pictures: Path | None) -> None:
    """Before the month is issued; written only when asked for."""
    page = await desk.page()
    picture = await page.screenshot()
    assert 20_000 < len(picture) < 300_000, "neither empty nor heavy"
    statement = next(
        one
        for one in (await desk.central.ledger.issuing.preview(year.SITE, "2026-01")).statements
        if one.recipient.member_id == "flat-30"
    )
    paper_ = paper(statement, voice_of(statement))
    first, *_ = await asyncio.to_thread(typeset.pictures, paper_, statement.issued_on, 80)
    assert 20_000 < len(first) < 300_000
    if pictures is not None:
        (pictures / "month.png").write_bytes(picture)
        (pictures / "statement.png").write_bytes(first)


async def test_the_month_is_issued_without_script(desk: Desk) -> None:
    """Two presses, with the sums between them; the second page says what went out."""
    page = await desk.page(script=False)
    await page.get_by_role("button", name="Go on to the issue of 51 documents").click()
    await expect(page.get_by_role("heading", name="Issue January 2026?")).to_be_visible()
    sums = page.locator("dl.sums")
    await expect(sums).to_contain_text("WY-00001 to WY-00051")
    shown = await sums.locator(".total dd").inner_text()
    await page.get_by_role("link", name="Back, issue nothing").click()
    assert (await desk.central.ledger.issuing.runs(site_id=year.SITE)).items == ()
    await page.go_back()
    await page.get_by_role("button", name="Issue 51 documents over").click()
    await expect(page.get_by_role("status")).to_contain_text("January 2026 is issued: 51 documents.")
    await expect(page.locator("#step-issued")).to_contain_text(shown)
    (run,) = (await desk.central.ledger.issuing.runs(site_id=year.SITE)).items
    assert run.period == "2026-01"


async def test_documents_are_seen_to_be_made_and_fetched(desk: Desk) -> None:
    page = await desk.page()
    await page.goto(f"{desk.node.http_url}{MONTH}?month=2026-01")
    await expect(page.locator("#step-documents")).to_contain_text("51 of 51 made", timeout=WITHIN_MS)
    await page.goto(f"{desk.node.http_url}{MONTH}?month=2026-01")
    await expect(page.locator(".preview tbody a")).to_have_count(51)
    await no_violations(page)
    packed = await fetched(page, f"{desk.node.http_url}{MONTH}/archive.zip?month=2026-01")
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert len(archive.namelist()) == 51
        assert archive.read("WY-00030 Flat 30.pdf").startswith(b"%PDF-1.7")
    async with page.expect_download() as started:
        await page.get_by_role("link", name="Rent ledger as text (CSV)").click()
    download = await started.value
    assert download.suggested_filename == "weavers-yard-2026-01.csv"
    text = await asyncio.to_thread(Path(await download.path()).read_text)
    assert len(text.splitlines()) == 52
    await page.get_by_role("link", name="February 2026").click()
    await expect(page.locator("#step-over")).to_contain_text("not yet")
