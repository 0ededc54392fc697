"""Rows of runs, statements and entries. Nothing here changes or removes one: the database refuses it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, and_, func, insert, or_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.ledger.entries import OF_MONTH, Account, Entry, EntryKind
from csms.ledger.issuing.issued import Document, Run
from csms.ledger.statement import PaymentLine
from csms.store.dialects import upsert
from csms.store.paging import Page, fetch_page
from csms.store.tables.ledger import (
    billing_terms,
    ledger_entry,
    number_series,
    payment,
    statement,
    statement_run,
)

_RUN = [c for c in statement_run.c if c.name != "inputs"]
_DOCUMENT = [c for c in statement.c if c.name != "body"]


async def lock_books(connection: AsyncConnection, site_id: str) -> None:
    """Nobody else books anything of the site until the transaction ends."""
    await connection.execute(
        select(billing_terms.c.site_id).where(billing_terms.c.site_id == site_id).with_for_update()
    )


async def last_entry(connection: AsyncConnection, site_id: str) -> int:
    """The number of the site's last entry; 0: there is none."""
    query = select(func.max(ledger_entry.c.id)).where(ledger_entry.c.site_id == site_id)
    return (await connection.execute(query)).scalar_one() or 0


async def last_number(connection: AsyncConnection, site_id: str, series: str) -> int:
    """The last number of a series; 0: there is none."""
    query = select(number_series.c.last).where(
        number_series.c.site_id == site_id, number_series.c.series == series
    )
    return (await connection.execute(query)).scalar_one_or_none() or 0


async def set_last_number(
    connection: AsyncConnection, dialect: str, site_id: str, series: str, last: int
) -> None:
    statement_ = upsert(dialect, number_series).values(site_id=site_id, series=series, last=last)
    await connection.execute(
        statement_.on_conflict_do_update(index_elements=["site_id", "series"], set_={"last": last})
    )


async def add_run(connection: AsyncConnection, run: Run, inputs: bytes) -> None:
    values = {name: getattr(run, name) for name in Run.__dataclass_fields__}
    await connection.execute(insert(statement_run).values(**values | {"seen": dict(run.seen)}, inputs=inputs))


async def add_documents(connection: AsyncConnection, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        await connection.execute(insert(statement), list(rows))


async def add_entries(
    connection: AsyncConnection,
    site_id: str,
    currency: str,
    run_id: str | None,
    now: datetime,
    entries: Iterable[Entry],
) -> None:
    rows = [
        {
            "site_id": site_id,
            "account": entry.account.value,
            "member_id": entry.member_id,
            "period": entry.period,
            "kind": entry.kind.value,
            "line_kind": entry.line_kind,
            "reference": entry.reference,
            "vat_category": entry.vat_category,
            "vat_percent": entry.vat_percent,
            "amount_minor": entry.amount_minor,
            "currency": currency,
            "booked_at": now,
            "run_id": run_id,
            "statement_id": entry.statement_id,
            "payment_id": entry.payment_id,
        }
        for entry in entries
    ]
    if rows:
        await connection.execute(insert(ledger_entry), rows)


async def runs_of(connection: AsyncConnection, site_id: str) -> tuple[Run, ...]:
    """All runs of a site in order of their months."""
    query = select(*_RUN).where(statement_run.c.site_id == site_id).order_by(statement_run.c.period)
    return tuple(_run(row) for row in await connection.execute(query))


async def page_of_runs(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[Run]:
    query = select(*_RUN)
    if site_id is not None:
        query = query.where(statement_run.c.site_id == site_id)
    return await fetch_page(connection, query, statement_run.c.id, _run, after=after, limit=limit)


async def get_run(connection: AsyncConnection, run_id: str) -> Run:
    """Raises NotFound."""
    row = (await connection.execute(select(*_RUN).where(statement_run.c.id == run_id))).one_or_none()
    if row is None:
        raise NotFound("statement run", run_id)
    return _run(row)


async def inputs_of(connection: AsyncConnection, run_id: str) -> bytes:
    query = select(statement_run.c.inputs).where(statement_run.c.id == run_id)
    return bytes((await connection.execute(query)).scalar_one())


async def get_document(connection: AsyncConnection, statement_id: str) -> tuple[Document, str]:
    """A document and its body. Raises NotFound."""
    row = (await connection.execute(select(statement).where(statement.c.id == statement_id))).one_or_none()
    if row is None:
        raise NotFound("statement", statement_id)
    return _document(row), row.body


async def page_of_documents(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    member_id: str | None,
    period: str | None,
    run_id: str | None,
    kind: str | None,
    after: str | None,
    limit: int,
) -> Page[Document]:
    query = select(*_DOCUMENT)
    wanted = {
        "site_id": site_id,
        "member_id": member_id,
        "period": period,
        "run_id": run_id,
        "kind": kind,
    }
    for name, value in wanted.items():
        if value is not None:
            query = query.where(statement.c[name] == value)
    return await fetch_page(connection, query, statement.c.id, _document, after=after, limit=limit)


async def documents_of(
    connection: AsyncConnection, site_id: str, period: str | None = None
) -> tuple[Document, ...]:
    """Documents of a site, or about one of its months, in order of their issue."""
    query = select(*_DOCUMENT).where(statement.c.site_id == site_id)
    if period is not None:
        query = query.where(statement.c.period == period)
    query = query.order_by(statement.c.issued_at, statement.c.kind, statement.c.series, statement.c.sequence)
    return tuple(_document(row) for row in await connection.execute(query))


async def bodies_of(connection: AsyncConnection, run_id: str) -> dict[str, str]:
    """The bodies of a run's documents by their ids."""
    query = select(statement.c.id, statement.c.body).where(statement.c.run_id == run_id)
    return {row.id: row.body for row in await connection.execute(query)}


async def booked(connection: AsyncConnection, site_id: str, period: str) -> list[Entry]:
    """What is booked for a month, added up by what it is about."""
    columns = (
        ledger_entry.c.account,
        ledger_entry.c.member_id,
        ledger_entry.c.kind,
        ledger_entry.c.line_kind,
        ledger_entry.c.reference,
        ledger_entry.c.vat_percent,
    )
    query = (
        select(*columns, func.sum(ledger_entry.c.amount_minor).label("amount_minor"))
        .where(
            ledger_entry.c.site_id == site_id,
            ledger_entry.c.period == period,
            ledger_entry.c.kind.in_([kind.value for kind in OF_MONTH]),
        )
        .group_by(*columns)
    )
    return [
        Entry(
            account=Account(row.account),
            member_id=row.member_id,
            period=period,
            kind=EntryKind(row.kind),
            line_kind=row.line_kind,
            reference=row.reference,
            vat_percent=row.vat_percent,
            amount_minor=int(row.amount_minor),
        )
        for row in await connection.execute(query)
    ]


async def entries_of(connection: AsyncConnection, statement_id: str) -> list[Entry]:
    """The rows that a document booked."""
    query = (
        select(ledger_entry).where(ledger_entry.c.statement_id == statement_id).order_by(ledger_entry.c.id)
    )
    return [
        Entry(
            account=Account(row.account),
            member_id=row.member_id,
            period=row.period,
            kind=EntryKind(row.kind),
            line_kind=row.line_kind,
            reference=row.reference,
            vat_category=row.vat_category,
            vat_percent=row.vat_percent,
            amount_minor=row.amount_minor,
            statement_id=row.statement_id,
        )
        for row in await connection.execute(query)
    ]


async def balances(connection: AsyncConnection, site_id: str, upto: int | None = None) -> dict[str, int]:
    """What each member owes by the books, or owed when they had `upto` rows."""
    query = select(ledger_entry.c.member_id, func.sum(ledger_entry.c.amount_minor).label("owed")).where(
        ledger_entry.c.site_id == site_id, ledger_entry.c.member_id.is_not(None)
    )
    if upto is not None:
        query = query.where(ledger_entry.c.id <= upto)
    rows = await connection.execute(query.group_by(ledger_entry.c.member_id))
    return {row.member_id: int(row.owed) for row in rows}


async def payments_since(connection: AsyncConnection, site_id: str) -> dict[str, list[PaymentLine]]:
    """Payments of each member that are in none of its documents yet."""
    last = (
        select(statement.c.member_id, func.max(statement.c.upto_entry).label("upto"))
        .where(statement.c.site_id == site_id)
        .group_by(statement.c.member_id)
        .subquery()
    )
    query = (
        select(payment.c.member_id, payment.c.paid_on, payment.c.amount_minor, payment.c.reference)
        .join(ledger_entry, ledger_entry.c.payment_id == payment.c.id)
        .outerjoin(last, last.c.member_id == payment.c.member_id)
        .where(
            payment.c.site_id == site_id,
            or_(last.c.upto.is_(None), and_(ledger_entry.c.id > last.c.upto)),
        )
        .order_by(ledger_entry.c.id)
    )
    found: defaultdict[str, list[PaymentLine]] = defaultdict(list)
    for row in await connection.execute(query):
        found[row.member_id].append(
            PaymentLine(at=row.paid_on, amount_minor=row.amount_minor, reference=row.reference)
        )
    return dict(found)


async def sequences_of(connection: AsyncConnection, site_id: str) -> dict[str, list[int]]:
    """The numbers of each series."""
    query = select(statement.c.series, statement.c.sequence).where(statement.c.site_id == site_id)
    found: defaultdict[str, list[int]] = defaultdict(list)
    for row in await connection.execute(query):
        found[row.series].append(row.sequence)
    return dict(found)


def _run(row: Row[Any]) -> Run:
    return Run(**{name: getattr(row, name) for name in Run.__dataclass_fields__})


def _document(row: Row[Any]) -> Document:
    return Document(**{name: getattr(row, name) for name in Document.__dataclass_fields__})
