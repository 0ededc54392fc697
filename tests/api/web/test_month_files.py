"""Files of the page Month, and how far they are."""

import asyncio
import csv
import io
import sys
import zipfile
from typing import Any

import openpyxl
import pypdf
import pytest

from csms.app import Central
from csms.clock import ManualClock
from csms.sites.model import System
from tests.api.web.treasurer import MONTH, PAGE, SITE, november
from tests.api.web.visitor import Visitor

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""What the services do on both databases is tested with them."""


@pytest.fixture
async def ready(central: Central, clock: ManualClock, yard: dict[str, Any], flat: dict[str, Any]) -> None:
    await november(central, clock)


@pytest.fixture
async def made(central: Central, ready: None) -> None:
    """November is issued, its documents are there."""
    await central.ledger.issuing.issue(SITE, MONTH)
    await central.documents.make(SITE, MONTH)


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


async def test_a_preview_says_that_it_is_one_and_has_no_number(onlooker: Visitor, ready: None) -> None:
    found = await onlooker.get(f"{PAGE}/preview/flat-12.pdf?month={MONTH}")
    assert found.headers["content-type"] == "application/pdf"
    assert found.headers["content-disposition"].startswith("inline; ")
    text = text_of(found.content)
    assert "Preview, not issued" in text
    assert "625.00" in text
    assert "S-0000" not in text
    assert (await onlooker.get(f"{PAGE}/preview/nobody.pdf?month={MONTH}")).status_code == 404
    assert (
        "No preview: 2026-11 comes first"
        in (await onlooker.get(f"{PAGE}/preview/flat-12.pdf?month=2027-01")).text
    )


async def test_without_the_libraries_it_is_said_what_to_install(
    forewoman: Visitor, ready: None, central: Central, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    refused = await forewoman.get(f"{PAGE}/preview/flat-12.pdf?month={MONTH}")
    says = "need the library typst: install phaseyard[statements]"
    assert f"No preview: documents: {says}." in refused.text
    await central.ledger.issuing.issue(SITE, MONTH)
    done = await central.documents.make(SITE, MONTH)
    assert {one.problem for one in done.failures} == {f"documents: {says}"}
    page = (await forewoman.get(f"{PAGE}?month={MONTH}")).text
    assert "0 of 2 made, 2 failed" in page
    assert says in page
    assert "Make the documents" in page, "once it is installed"


async def test_documents_are_made_by_the_button_and_told_live(
    forewoman: Visitor, ready: None, central: Central
) -> None:
    await central.ledger.issuing.issue(SITE, MONTH)
    page = (await forewoman.get(f"{PAGE}?month={MONTH}")).text
    assert "Make the documents" in page
    assert "not made" in page
    done = await forewoman.send(f"{PAGE}/documents", month=MONTH)
    assert "2 documents to be made: they are under way." in done.text
    await asyncio.gather(*(task for task in central.tasks._tasks if "documents of" in task.get_name()))
    live = await forewoman.get(f"{PAGE}/live?month={MONTH}")
    assert live.headers["content-type"].startswith("text/event-stream")
    assert "event: documents" in live.text
    assert "2 of 2 made" in live.text
    assert live.text.rstrip().endswith("data: over")
    page = (await forewoman.get(f"{PAGE}?month={MONTH}")).text
    assert "All documents as a ZIP" in page
    assert "Make the documents" not in page


async def test_files_are_handed_out(onlooker: Visitor, made: None, central: Central) -> None:
    documents = await central.documents.of_month(SITE, MONTH)
    one = await onlooker.get(f"{PAGE}/document/{documents[0].statement_id}.pdf")
    assert one.content == await central.documents.pdf(documents[0].statement_id)
    packed = await onlooker.get(f"{PAGE}/archive.zip?month={MONTH}")
    assert packed.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert archive.namelist() == ["S-00001 Flat 12.pdf", "S-00002 Flat 2.pdf"]
    written = await onlooker.get(f"{PAGE}/table.csv?month={MONTH}")
    rows = list(csv.DictReader(io.StringIO(written.text)))
    assert [(row["Member"], row["Total"]) for row in rows] == [("Flat 12", "625.00"), ("Flat 2", "625.00")]
    sheet = openpyxl.load_workbook(
        io.BytesIO((await onlooker.get(f"{PAGE}/table.xlsx?month={MONTH}")).content)
    ).active
    assert sheet is not None
    assert sheet.max_row == 3


async def test_what_is_not_there_is_said(forewoman: Visitor, ready: None, central: Central) -> None:
    assert (
        "No archive: no document of 2026-11 is made yet"
        in (await forewoman.get(f"{PAGE}/archive.zip?month={MONTH}")).text
    )
    assert (
        "No table: no statement is issued for 2026-11"
        in (await forewoman.get(f"{PAGE}/table.csv?month={MONTH}")).text
    )
    assert "Not done: no statement is issued" in (await forewoman.send(f"{PAGE}/documents", month=MONTH)).text
    assert (await forewoman.get(f"{PAGE}/document/st_none.pdf")).status_code == 404


async def test_a_document_of_another_site_is_not_shown(
    onlooker: Visitor, made: None, central: Central
) -> None:
    await central.sites.create_site(
        id="mill", name="Mill", time_zone="Europe/Oslo", currency="NOK", system=System.TN_400
    )
    (document, *_) = await central.documents.of_month(SITE, MONTH)
    assert (await onlooker.get(f"/month/mill/document/{document.statement_id}.pdf")).status_code == 404
