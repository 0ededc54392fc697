"""Rows of payments, and what members owe."""

from collections import defaultdict
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.ledger.entries import EntryKind
from csms.ledger.payments.payment import Payment
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import member as members
from csms.store.tables.ledger import billing_terms, ledger_entry, statement
from csms.store.tables.ledger import payment as payments


async def lock_books(connection: AsyncConnection, site_id: str) -> None:
    """Nobody else books anything of the site until the transaction ends."""
    query = select(billing_terms.c.site_id).where(billing_terms.c.site_id == site_id)
    await connection.execute(query.with_for_update())


async def by_reference(connection: AsyncConnection, site_id: str, reference: str) -> Payment | None:
    query = select(payments).where(payments.c.site_id == site_id, payments.c.reference == reference)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else _payment(row)


async def site_of_member(connection: AsyncConnection, member_id: str) -> str | None:
    query = select(members.c.site_id).where(members.c.id == member_id)
    return (await connection.execute(query)).scalar_one_or_none()


async def add(connection: AsyncConnection, new: Payment) -> None:
    """The payment and its entry, which takes it off what the member owes."""
    await connection.execute(insert(payments).values(asdict(new)))
    entry = {
        "site_id": new.site_id,
        "account": "member",
        "member_id": new.member_id,
        "kind": EntryKind.PAYMENT.value,
        "amount_minor": -new.amount_minor,
        "currency": new.currency,
        "booked_at": new.created_at,
        "payment_id": new.id,
    }
    await connection.execute(insert(ledger_entry).values(entry))


async def get(connection: AsyncConnection, payment_id: str) -> Payment:
    """Raises NotFound."""
    row = (await connection.execute(select(payments).where(payments.c.id == payment_id))).one_or_none()
    if row is None:
        raise NotFound("payment", payment_id)
    return _payment(row)


async def page(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    member_id: str | None,
    after: str | None,
    limit: int,
) -> Page[Payment]:
    query = select(payments)
    if site_id is not None:
        query = query.where(payments.c.site_id == site_id)
    if member_id is not None:
        query = query.where(payments.c.member_id == member_id)
    return await fetch_page(connection, query, payments.c.id, _payment, after=after, limit=limit)


async def owed(
    connection: AsyncConnection, site_id: str, member_id: str | None
) -> list[tuple[str, str, int]]:
    """(member, name, what it owes) of all that have anything booked, in order of their ids."""
    query = (
        select(members.c.id, members.c.name, func.sum(ledger_entry.c.amount_minor).label("owed"))
        .join(members, members.c.id == ledger_entry.c.member_id)
        .where(ledger_entry.c.site_id == site_id)
        .group_by(members.c.id, members.c.name)
    )
    if member_id is not None:
        query = query.where(members.c.id == member_id)
    rows = await connection.execute(query)
    return sorted((row.id, row.name, int(row.owed)) for row in rows)


async def documents(
    connection: AsyncConnection, site_id: str, member_id: str | None
) -> dict[str, list[tuple[str, str, datetime, Any, int]]]:
    """(id, number, issued, due, gross) of each member's documents that are not credited."""
    credited = select(statement.c.corrects_id).where(
        statement.c.site_id == site_id, statement.c.corrects_id.is_not(None)
    )
    query = select(statement).where(statement.c.site_id == site_id, statement.c.id.not_in(credited))
    query = query.with_only_columns(
        statement.c.member_id,
        statement.c.id,
        statement.c.number,
        statement.c.issued_at,
        statement.c.due_on,
        statement.c.gross_minor,
    ).where(statement.c.kind == "statement")
    if member_id is not None:
        query = query.where(statement.c.member_id == member_id)
    found: defaultdict[str, list[tuple[str, str, datetime, Any, int]]] = defaultdict(list)
    for row in await connection.execute(query):
        found[row.member_id].append((row.id, row.number, row.issued_at, row.due_on, row.gross_minor))
    return dict(found)


def _payment(row: Row[Any]) -> Payment:
    return Payment(**{name: getattr(row, name) for name in Payment.__dataclass_fields__})
