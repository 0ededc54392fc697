"""Rows of billing terms and of members' addresses."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.ledger import canonical
from csms.ledger.terms import Terms
from csms.store.dialects import upsert
from csms.store.tables.access import member as members
from csms.store.tables.ledger import billing_terms, member_address
from csms.store.tables.sites import site as sites


async def currency_of(connection: AsyncConnection, site_id: str) -> str | None:
    """The site's currency; None: there is no such site."""
    return (
        await connection.execute(select(sites.c.currency).where(sites.c.id == site_id))
    ).scalar_one_or_none()


async def get_terms(connection: AsyncConnection, site_id: str) -> Terms | None:
    query = select(billing_terms.c.terms).where(billing_terms.c.site_id == site_id)
    text = (await connection.execute(query)).scalar_one_or_none()
    return None if text is None else canonical.read(Terms, text)


async def put_terms(
    connection: AsyncConnection, dialect: str, site_id: str, terms: Terms, now: datetime
) -> None:
    values = {"terms": canonical.write(terms), "changed_at": now}
    statement = upsert(dialect, billing_terms).values(site_id=site_id, **values)
    await connection.execute(statement.on_conflict_do_update(index_elements=["site_id"], set_=values))


async def has_member(connection: AsyncConnection, member_id: str) -> bool:
    query = select(members.c.id).where(members.c.id == member_id)
    return (await connection.execute(query)).first() is not None


async def get_address(connection: AsyncConnection, member_id: str) -> tuple[tuple[str, ...], str]:
    """The address lines and the language; empty where none were given."""
    query = select(member_address).where(member_address.c.member_id == member_id)
    row = (await connection.execute(query)).one_or_none()
    return ((), "") if row is None else (tuple(row.lines), row.language)


async def put_address(
    connection: AsyncConnection, dialect: str, member_id: str, lines: Sequence[str], language: str
) -> None:
    values = {"lines": list(lines), "language": language}
    statement = upsert(dialect, member_address).values(member_id=member_id, **values)
    await connection.execute(statement.on_conflict_do_update(index_elements=["member_id"], set_=values))
