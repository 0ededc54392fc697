"""Rows of ownerships."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, or_, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.ownerships.ownership import Ownership, Thing
from csms.errors import NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import member as members
from csms.store.tables.access import token as tokens
from csms.store.tables.ledger import ownership as ownerships
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations


async def lock_site(connection: AsyncConnection, site_id: str) -> bool:
    """Whether there is such a site; nobody else changes its ownerships until the transaction ends."""
    query = select(sites.c.id).where(sites.c.id == site_id).with_for_update()
    return (await connection.execute(query)).first() is not None


async def site_of_member(connection: AsyncConnection, member_id: str) -> str | None:
    return (
        await connection.execute(select(members.c.site_id).where(members.c.id == member_id))
    ).scalar_one_or_none()


async def site_of_thing(connection: AsyncConnection, thing: Thing) -> str | None:
    """The site of a token (its present member's) or of a station; None: there is none."""
    if thing.token_id is not None:
        query = select(members.c.site_id).join(tokens, tokens.c.member_id == members.c.id)
        query = query.where(tokens.c.id == thing.token_id)
    else:
        query = select(stations.c.site_id).where(stations.c.id == thing.station_id)
    return (await connection.execute(query)).scalar_one_or_none()


async def of_thing(connection: AsyncConnection, thing: Thing) -> tuple[Ownership, ...]:
    """All of the token, or of the station's spaces."""
    query = select(ownerships)
    if thing.token_id is not None:
        query = query.where(ownerships.c.token_id == thing.token_id)
    else:
        query = query.where(ownerships.c.station_id == thing.station_id)
    return tuple(_ownership(row) for row in await connection.execute(query.order_by(ownerships.c.id)))


async def add(connection: AsyncConnection, new: Ownership) -> None:
    await connection.execute(insert(ownerships).values(_values(new)))


async def set_end(connection: AsyncConnection, ownership_id: str, to_at: datetime | None) -> None:
    changed = update(ownerships).where(ownerships.c.id == ownership_id).values(to_at=to_at)
    await connection.execute(changed)


async def give_token(connection: AsyncConnection, token_id: str, member_id: str) -> None:
    """The token's present member, which is who may charge with it."""
    await connection.execute(update(tokens).where(tokens.c.id == token_id).values(member_id=member_id))


async def remove(connection: AsyncConnection, ownership_id: str) -> None:
    await connection.execute(delete(ownerships).where(ownerships.c.id == ownership_id))


async def get(connection: AsyncConnection, ownership_id: str) -> Ownership:
    """Raises NotFound."""
    query = select(ownerships).where(ownerships.c.id == ownership_id)
    row = (await connection.execute(query)).one_or_none()
    if row is None:
        raise NotFound("ownership", ownership_id)
    return _ownership(row)


async def page(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    member_id: str | None,
    token_id: str | None,
    station_id: str | None,
    after: str | None,
    limit: int,
) -> Page[Ownership]:
    query = select(ownerships)
    wanted = {"site_id": site_id, "member_id": member_id, "token_id": token_id, "station_id": station_id}
    for name, value in wanted.items():
        if value is not None:
            query = query.where(ownerships.c[name] == value)
    return await fetch_page(connection, query, ownerships.c.id, _ownership, after=after, limit=limit)


async def of_site(
    connection: AsyncConnection, site_id: str, start: datetime | None, end: datetime | None
) -> tuple[Ownership, ...]:
    """All of a site that hold at some time from `start` to `end`, in order of their ids."""
    query = select(ownerships).where(ownerships.c.site_id == site_id)
    if end is not None:
        query = query.where(or_(ownerships.c.from_at.is_(None), ownerships.c.from_at < end))
    if start is not None:
        query = query.where(or_(ownerships.c.to_at.is_(None), ownerships.c.to_at > start))
    return tuple(_ownership(row) for row in await connection.execute(query.order_by(ownerships.c.id)))


def _values(each: Ownership) -> dict[str, Any]:
    return {
        "id": each.id,
        "site_id": each.site_id,
        "token_id": each.thing.token_id,
        "station_id": each.thing.station_id,
        "evse": each.thing.evse,
        "member_id": each.member_id,
        "from_at": each.from_at,
        "to_at": each.to_at,
        "created_at": each.created_at,
    }


def _ownership(row: Row[Any]) -> Ownership:
    return Ownership(
        id=row.id,
        site_id=row.site_id,
        thing=Thing(row.token_id, row.station_id, row.evse),
        member_id=row.member_id,
        from_at=row.from_at,
        to_at=row.to_at,
        created_at=row.created_at,
    )
