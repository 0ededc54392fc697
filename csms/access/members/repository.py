"""Rows of members."""

from dataclasses import asdict
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.members.member import Member, MemberKind
from csms.errors import Conflict, NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import member as members
from csms.store.tables.access import token as tokens
from csms.store.tables.ledger import ownership, payment, statement
from csms.store.tables.sessions import session as sessions
from csms.store.tables.sites import site as sites


async def site_exists(connection: AsyncConnection, site_id: str) -> bool:
    return (await connection.execute(select(sites.c.id).where(sites.c.id == site_id))).first() is not None


async def insert_member(connection: AsyncConnection, new: Member) -> None:
    """Raises Conflict when the id, or the name on that site, is taken."""
    try:
        await connection.execute(insert(members).values(_values(new)))
    except IntegrityError as error:
        raise Conflict(f"there is a member with the id {new.id!r} or named {new.name!r} already") from error


async def update_member(connection: AsyncConnection, changed: Member) -> None:
    """Raises Conflict when the name is taken on that site."""
    try:
        await connection.execute(update(members).where(members.c.id == changed.id).values(_values(changed)))
    except IntegrityError as error:
        raise Conflict(f"there is a member named {changed.name!r} already") from error


async def delete_member(connection: AsyncConnection, member_id: str) -> None:
    await connection.execute(delete(members).where(members.c.id == member_id))


async def get_member(connection: AsyncConnection, member_id: str, *, lock: bool = False) -> Member:
    """Raises NotFound. With `lock`, nobody else changes it until the transaction ends."""
    query = select(members).where(members.c.id == member_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("member", member_id)
    return _member(row)


async def list_members(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    kind: MemberKind | None,
    active: bool | None,
    after: str | None,
    limit: int,
) -> Page[Member]:
    query = select(members)
    if site_id is not None:
        query = query.where(members.c.site_id == site_id)
    if kind is not None:
        query = query.where(members.c.kind == kind.value)
    if active is not None:
        query = query.where(members.c.active == active)
    return await fetch_page(connection, query, members.c.id, _member, after=after, limit=limit)


async def holdings(connection: AsyncConnection, member_id: str) -> dict[str, int]:
    """How many things the member has that must not lose it; only those that are there."""
    counted = {
        "tokens": select(func.count()).where(tokens.c.member_id == member_id),
        "sessions": select(func.count()).where(sessions.c.member_id == member_id),
        "ownerships": select(func.count()).where(ownership.c.member_id == member_id),
        "statements": select(func.count()).where(statement.c.member_id == member_id),
        "payments": select(func.count()).where(payment.c.member_id == member_id),
    }
    found = {what: int((await connection.execute(query)).scalar_one()) for what, query in counted.items()}
    return {what: count for what, count in found.items() if count}


def _values(member: Member) -> dict[str, Any]:
    return {**asdict(member), "kind": member.kind.value}


def _member(row: Row[Any]) -> Member:
    return Member(
        id=row.id,
        site_id=row.site_id,
        kind=MemberKind(row.kind),
        name=row.name,
        email=row.email,
        active=row.active,
        created_at=row.created_at,
    )
