"""Rows of rights, and what they name."""

from dataclasses import asdict
from typing import Any

from sqlalchemy import Row, Table, delete, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.rights.right import Right
from csms.errors import NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import access_right as rights
from csms.store.tables.access import member as members
from csms.store.tables.access import member_group as groups
from csms.store.tables.sites import circuit as circuits
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations

_THINGS: dict[str, Table] = {
    "member_id": members,
    "group_id": groups,
    "circuit_id": circuits,
    "station_id": stations,
}


async def site_name(connection: AsyncConnection, site_id: str) -> str | None:
    found = await connection.execute(select(sites.c.name).where(sites.c.id == site_id))
    row = found.one_or_none()
    return None if row is None else str(row.name)


async def whereabouts(connection: AsyncConnection, field: str, key: str) -> tuple[str | None, str] | None:
    """The site and the name of what a field of a right names; None when there is no such thing."""
    table = _THINGS[field]
    query = select(table.c.site_id, table.c.name).where(table.c.id == key)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else (row.site_id, row.name or key)


async def insert_right(connection: AsyncConnection, new: Right) -> None:
    await connection.execute(insert(rights).values(asdict(new)))


async def find_same(connection: AsyncConnection, right: Right) -> Right | None:
    """A right that is for the same and holds at the same place."""
    query = select(rights).where(rights.c.site_id == right.site_id)
    for field in ("member_id", "group_id", "circuit_id", "station_id"):
        query = query.where(rights.c[field].is_not_distinct_from(getattr(right, field)))
    row = (await connection.execute(query.limit(1))).one_or_none()
    return None if row is None else right_of(row)


async def get_right(connection: AsyncConnection, right_id: str) -> Right:
    """Raises NotFound."""
    row = (await connection.execute(select(rights).where(rights.c.id == right_id))).one_or_none()
    if row is None:
        raise NotFound("right", right_id)
    return right_of(row)


async def delete_right(connection: AsyncConnection, right_id: str) -> None:
    await connection.execute(delete(rights).where(rights.c.id == right_id))


async def list_rights(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    member_id: str | None,
    group_id: str | None,
    station_id: str | None,
    after: str | None,
    limit: int,
) -> Page[Right]:
    query = select(rights)
    wanted = {"site_id": site_id, "member_id": member_id, "group_id": group_id, "station_id": station_id}
    for field, value in wanted.items():
        if value is not None:
            query = query.where(rights.c[field] == value)
    return await fetch_page(connection, query, rights.c.id, right_of, after=after, limit=limit)


def right_of(row: Row[Any]) -> Right:
    """The right of a row of its table."""
    return Right(
        id=row.id,
        site_id=row.site_id,
        member_id=row.member_id,
        group_id=row.group_id,
        circuit_id=row.circuit_id,
        station_id=row.station_id,
        created_at=row.created_at,
    )
