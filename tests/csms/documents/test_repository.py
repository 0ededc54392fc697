from datetime import UTC, datetime

import pytest

from csms.documents import repository
from csms.documents.columns import Column, Content, DocumentSettings, RowsPer
from csms.documents.document import Document
from csms.documents.making import Made
from csms.errors import NotFound
from csms.store.database import Database
from tests.csms.documents.conftest import PERIOD, SITE, IssuedStatements

AT = datetime(2026, 2, 3, 9, tzinfo=UTC)
MADE = Made(b"%PDF-1.7 " * 100, b"<invoice/>", "ab" * 32)


def document(flat: int, problem: str = "") -> Document:
    return Document(
        statement_id=f"stm_{flat}",
        site_id=SITE,
        period=PERIOD,
        number=f"WY-{flat:05}",
        member_name=f"Flat {flat}",
        problem=problem,
        hash="" if problem else MADE.hash,
        size=0 if problem else len(MADE.pdf),
        electronic=not problem,
        made_at=AT,
    )


async def test_settings_come_back_as_they_were_kept(database: Database, issued: IssuedStatements) -> None:
    settings = DocumentSettings(
        e_invoice=True,
        columns=(Column(Content.MEMBER, "Navn"), Column(Content.GROSS)),
        rows_per=RowsPer.LINE,
        decimal_sign=",",
        separator=";",
        account="4000",
        accounts={"vat": "1776"},
        member_accounts={"flat-1": "10001"},
    )
    async with database.write() as connection:
        assert await repository.settings_of(connection, SITE) == DocumentSettings()
        for kept in (DocumentSettings(), settings):
            await repository.keep_settings(connection, database.dialect, SITE, kept, AT)
        assert await repository.settings_of(connection, SITE) == settings


async def test_a_document_is_kept_once_and_a_problem_gives_way(
    database: Database, issued: IssuedStatements
) -> None:
    async with database.write() as connection:
        await repository.keep(connection, database.dialect, document(2, "no luck"), None)
        await repository.keep(connection, database.dialect, document(1), MADE)
        assert [one.problem for one in await repository.of_month(connection, SITE, PERIOD)] == ["", "no luck"]
        with pytest.raises(NotFound):
            await repository.pdf_of(connection, "stm_2")
        await repository.keep(connection, database.dialect, document(2), MADE)
        await repository.keep(connection, database.dialect, document(1, "a late failure"), None)
    async with database.read() as connection:
        found = await repository.of_month(connection, SITE, PERIOD)
        assert found == (document(1), document(2))
        assert await repository.get(connection, "stm_1") == document(1)
        assert await repository.pdf_of(connection, "stm_2") == MADE.pdf
        assert await repository.invoice_of(connection, "stm_2") == MADE.invoice
        assert await repository.of_month(connection, SITE, "2026-02") == ()


async def test_what_is_not_there_is_named(database: Database, issued: IssuedStatements) -> None:
    plain = Made(b"%PDF", None, "")
    async with database.write() as connection:
        await repository.keep(connection, database.dialect, document(1), plain)
        with pytest.raises(NotFound, match="electronic invoice of statement stm_1"):
            await repository.invoice_of(connection, "stm_1")
        with pytest.raises(NotFound, match="document of statement stm_9"):
            await repository.get(connection, "stm_9")


async def test_a_month_is_unfinished_until_it_is_done(database: Database, issued: IssuedStatements) -> None:
    async with database.write() as connection:
        await repository.want(connection, database.dialect, SITE, PERIOD, AT)
        assert await repository.unfinished(connection) == [(SITE, PERIOD)]
        await repository.done(connection, SITE, PERIOD, AT)
        assert await repository.unfinished(connection) == []
        await repository.want(connection, database.dialect, SITE, PERIOD, AT)
        assert await repository.unfinished(connection) == [(SITE, PERIOD)]
