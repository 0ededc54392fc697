"""A month's documents, made in threads and kept one by one."""

import asyncio
import hashlib
import io
import zipfile
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import Any

import pypdf
import pytest

from csms.clock import ManualClock
from csms.documents import making, repository
from csms.documents.columns import DocumentSettings
from csms.documents.document import Progress
from csms.documents.language import Language
from csms.documents.service import DocumentsService
from csms.errors import Conflict, InvalidInput, NotFound
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.tasks import Tasks
from tests.csms.documents.conftest import PERIOD, SITE, IssuedStatements


@pytest.fixture
async def tasks() -> AsyncIterator[Tasks]:
    made = Tasks()
    yield made
    await made.close()


@pytest.fixture
def documents(
    database: Database, clock: ManualClock, sites: SitesService, issued: IssuedStatements, tasks: Tasks
) -> DocumentsService:
    return DocumentsService(database, clock, sites=sites, statements=issued, tasks=tasks)


def mend(issued: IssuedStatements) -> None:
    """Give the third statement a language that can be set."""
    issued.kept["stm_3"] = replace(issued.kept["stm_3"], language="sv")


async def test_a_month_is_made_and_told_one_by_one(
    documents: DocumentsService, issued: IssuedStatements
) -> None:
    mend(issued)
    heard: list[Progress] = []
    done = await documents.make(SITE, PERIOD, heard.append)
    assert done == Progress(statements=5, made=5)
    assert [each.made for each in heard] == [0, 1, 2, 3, 4, 5]
    kept = await documents.of_month(SITE, PERIOD)
    for one in kept:
        pdf = await documents.pdf(one.statement_id)
        assert (one.hash, one.size) == (hashlib.sha256(pdf).hexdigest(), len(pdf))
        assert one.member_name in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


async def test_one_that_fails_is_named_and_does_not_stop_the_others(documents: DocumentsService) -> None:
    done = await documents.make(SITE, PERIOD)
    assert (done.statements, done.made) == (5, 4)
    (failure,) = done.failures
    assert (failure.number, failure.member_name) == ("WY-00003", "Flat 3")
    assert "language: 'fi' is no language of ours" in failure.problem
    with pytest.raises(NotFound):
        await documents.pdf("stm_3")
    with pytest.raises(NotFound):
        await documents.invoice("stm_1")


async def test_what_failed_is_tried_again_and_what_is_made_stays(
    documents: DocumentsService, issued: IssuedStatements
) -> None:
    """Whatever has been set meanwhile: what has gone out is not made anew."""
    await documents.make(SITE, PERIOD)
    before = {one.statement_id: one.hash for one in await documents.of_month(SITE, PERIOD)}
    assert before["stm_3"] == ""
    mend(issued)
    await documents.set_settings(SITE, DocumentSettings(e_invoice=True))
    done = await documents.make(SITE, PERIOD)
    assert done == Progress(statements=5, made=5)
    after = {one.statement_id: one.hash for one in await documents.of_month(SITE, PERIOD)}
    assert {**after, "stm_3": ""} == before
    assert (await documents.get("stm_3")).electronic
    assert not (await documents.get("stm_1")).electronic
    assert (await documents.invoice("stm_3")).startswith(b"<?xml")


async def test_a_run_that_was_killed_goes_on_where_it_was(
    documents: DocumentsService,
    database: Database,
    clock: ManualClock,
    sites: SitesService,
    issued: IssuedStatements,
    tasks: Tasks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The server dies when three are on disk; the next one has a service of its own and the same database."""
    mend(issued)
    third = asyncio.Event()

    def watch(progress: Progress) -> None:
        if progress.made == 3:
            third.set()
            raise RuntimeError("the power is gone")

    with pytest.raises(ExceptionGroup):
        await documents.make(SITE, PERIOD, watch)
    assert third.is_set()
    left = [one.statement_id for one in await documents.of_month(SITE, PERIOD)]
    assert 3 <= len(left) < 5
    async with database.write() as connection:
        await repository.want(connection, database.dialect, SITE, PERIOD, clock.now())
    made: list[str] = []
    really = making.make

    def counted(statement: Any, settings: DocumentSettings) -> making.Made:
        made.append(statement.id)
        return really(statement, settings)

    monkeypatch.setattr(making, "make", counted)
    reborn = DocumentsService(database, clock, sites=sites, statements=issued, tasks=tasks)
    await reborn.go_on()
    assert await reborn.progress(SITE, PERIOD) == Progress(statements=5, made=5)
    assert sorted([*made, *left]) == [f"stm_{flat}" for flat in range(1, 6)], "none is made twice"
    await reborn.go_on()
    assert len(made) == 5 - len(left)


async def test_it_starts_in_the_background_and_tells_how_far_it_is(
    documents: DocumentsService, tasks: Tasks, issued: IssuedStatements
) -> None:
    mend(issued)
    started, again = await asyncio.gather(documents.start(SITE, PERIOD), documents.start(SITE, PERIOD))
    assert started == again == Progress(statements=5, made=0, running=True)
    assert len(tasks) == 1, "pressed twice, made once"
    await asyncio.gather(*tasks._tasks)
    assert await documents.start(SITE, PERIOD) == Progress(statements=5, made=5)


async def test_a_month_is_not_made_twice_at_once(documents: DocumentsService) -> None:
    refused: list[str] = []

    async def second() -> None:
        try:
            await documents.make(SITE, PERIOD)
        except Conflict as error:
            refused.append(str(error))

    await asyncio.gather(documents.make(SITE, PERIOD), second())
    assert refused == [f"documents of {PERIOD} are being made; see how far they are"]


async def test_a_month_that_is_not_issued_has_no_documents(documents: DocumentsService) -> None:
    for refused in (documents.start(SITE, "2026-02"), documents.rent_ledger(SITE, "2026-02")):
        with pytest.raises(Conflict, match="issue the month first"):
            await refused
    with pytest.raises(Conflict, match="make them first"):
        async with documents.archive(SITE, PERIOD):
            pass


async def test_the_archive_has_every_document_and_names_what_is_missing(documents: DocumentsService) -> None:
    await documents.make(SITE, PERIOD)
    async with documents.archive(SITE, PERIOD) as file:
        packed = zipfile.ZipFile(io.BytesIO(file.read()))
    names = packed.namelist()
    assert names == [*(f"WY-{flat:05} Flat {flat}.pdf" for flat in (1, 2, 4, 5)), "missing.txt"]
    assert packed.read(names[0]) == await documents.pdf("stm_1")
    assert b"WY-00003 Flat 3: " in packed.read("missing.txt")


async def test_the_rent_ledger_has_a_row_for_each_statement(
    documents: DocumentsService, issued: IssuedStatements
) -> None:
    mend(issued)
    table = await documents.rent_ledger(SITE, PERIOD, Language.SWEDISH)
    assert table.heads[:3] == ("Nummer", "Typ", "Utfärdad")
    assert (await documents.rent_ledger(SITE, PERIOD)).heads[:3] == ("Number", "Kind", "Issued")
    assert [row[0] for row in table.rows] == [f"WY-{flat:05}" for flat in range(1, 6)]


async def test_settings_are_checked_and_belong_to_a_site(documents: DocumentsService) -> None:
    with pytest.raises(InvalidInput, match="columns"):
        await documents.set_settings(SITE, DocumentSettings(columns=()))
    with pytest.raises(NotFound):
        await documents.settings("nowhere")
    assert await documents.settings(SITE) == DocumentSettings()


async def test_a_preview_is_made_and_not_kept(documents: DocumentsService, issued: IssuedStatements) -> None:
    pdf = await documents.preview(issued.kept["stm_1"])
    assert pdf.startswith(b"%PDF-1.7")
    assert await documents.of_month(SITE, PERIOD) == ()
