"""Rows of documents, of their settings, and of the months whose documents are being made."""

import zlib
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select, update

from csms.documents.columns import DocumentSettings
from csms.documents.document import Document
from csms.documents.making import Made
from csms.errors import NotFound
from csms.ledger import canonical
from csms.store.database import Connection
from csms.store.dialects import upsert
from csms.store.tables.documents import document as documents
from csms.store.tables.documents import document_run as runs
from csms.store.tables.documents import document_settings as kept

_SHOWN = [column for column in documents.c if column.name not in ("pdf", "invoice")]
LEVEL = 6


async def settings_of(connection: Connection, site_id: str) -> DocumentSettings:
    """The site's settings, or the first ones where nobody has set any."""
    text = (await connection.execute(select(kept.c.settings).where(kept.c.site_id == site_id))).scalar()
    return DocumentSettings() if text is None else canonical.read(DocumentSettings, text)


async def keep_settings(
    connection: Connection, dialect: str, site_id: str, settings: DocumentSettings, at: datetime
) -> None:
    values = {"settings": canonical.write(settings), "changed_at": at}
    statement = upsert(dialect, kept).values(site_id=site_id, **values)
    await connection.execute(statement.on_conflict_do_update(index_elements=[kept.c.site_id], set_=values))


async def keep(connection: Connection, dialect: str, document: Document, made: Made | None) -> None:
    """Write what was made, or the problem; a document that is there stays as it is."""
    values = {
        "site_id": document.site_id,
        "period": document.period,
        "number": document.number,
        "member_name": document.member_name,
        "problem": document.problem,
        "pdf": zlib.compress(made.pdf, LEVEL) if made else None,
        "hash": document.hash,
        "size": document.size,
        "invoice": zlib.compress(made.invoice, LEVEL) if made and made.invoice else None,
        "electronic": document.electronic,
        "made_at": document.made_at,
    }
    statement = upsert(dialect, documents).values(statement_id=document.statement_id, **values)
    await connection.execute(
        statement.on_conflict_do_update(
            index_elements=[documents.c.statement_id], set_=values, where=documents.c.pdf.is_(None)
        )
    )


async def of_month(connection: Connection, site_id: str, period: str) -> tuple[Document, ...]:
    """All documents and problems of the month, by number."""
    query = select(*_SHOWN).where(documents.c.site_id == site_id, documents.c.period == period)
    rows = await connection.execute(query.order_by(documents.c.number))
    return tuple(_document(row) for row in rows)


async def get(connection: Connection, statement_id: str) -> Document:
    """Raises NotFound when none was tried."""
    query = select(*_SHOWN).where(documents.c.statement_id == statement_id)
    row = (await connection.execute(query)).one_or_none()
    if row is None:
        raise NotFound("document of statement", statement_id)
    return _document(row)


async def pdf_of(connection: Connection, statement_id: str) -> bytes:
    """The PDF. Raises NotFound."""
    return await _blob(connection, documents.c.pdf, statement_id, "document of statement")


async def invoice_of(connection: Connection, statement_id: str) -> bytes:
    """The XML. Raises NotFound when the document carries none."""
    return await _blob(connection, documents.c.invoice, statement_id, "electronic invoice of statement")


async def _blob(connection: Connection, column: Any, statement_id: str, kind: str) -> bytes:
    query = select(column).where(documents.c.statement_id == statement_id)
    packed = (await connection.execute(query)).scalar()
    if packed is None:
        raise NotFound(kind, statement_id)
    return zlib.decompress(packed)


async def want(connection: Connection, dialect: str, site_id: str, period: str, at: datetime) -> None:
    """Write down that the month's documents are wanted, so that a restart goes on with them."""
    values = {"wanted_at": at, "done_at": None}
    statement = upsert(dialect, runs).values(site_id=site_id, period=period, **values)
    keys = [runs.c.site_id, runs.c.period]
    await connection.execute(statement.on_conflict_do_update(index_elements=keys, set_=values))


async def done(connection: Connection, site_id: str, period: str, at: datetime) -> None:
    query = update(runs).where(runs.c.site_id == site_id, runs.c.period == period)
    await connection.execute(query.values(done_at=at))


async def unfinished(connection: Connection) -> Sequence[tuple[str, str]]:
    """Sites and months whose documents were wanted and are not all tried."""
    query = select(runs.c.site_id, runs.c.period).where(runs.c.done_at.is_(None))
    rows = await connection.execute(query.order_by(runs.c.wanted_at, runs.c.site_id, runs.c.period))
    return [(row.site_id, row.period) for row in rows]


def _document(row: Row[Any]) -> Document:
    return Document(
        statement_id=row.statement_id,
        site_id=row.site_id,
        period=row.period,
        number=row.number,
        member_name=row.member_name,
        problem=row.problem,
        hash=row.hash,
        size=row.size,
        electronic=row.electronic,
        made_at=row.made_at,
    )
