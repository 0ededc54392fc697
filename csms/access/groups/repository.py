"""Rows of groups and of who is in them."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, insert, or_, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.groups.group import Group
from csms.errors import Conflict, NotFound
from csms.store.dialects import upsert
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import access_right, membership
from csms.store.tables.access import member as members
from csms.store.tables.access import member_group as groups
from csms.store.tables.sites import site as sites
from csms.store.tables.tariffs import tariff_assignment


async def site_exists(connection: AsyncConnection, site_id: str) -> bool:
    return (await connection.execute(select(sites.c.id).where(sites.c.id == site_id))).first() is not None


async def insert_group(connection: AsyncConnection, new: Group) -> None:
    """Raises Conflict when the id, or the name on that site, is taken."""
    try:
        await connection.execute(insert(groups).values(_values(new)))
    except IntegrityError as error:
        raise Conflict(f"there is a group with the id {new.id!r} or named {new.name!r} already") from error


async def update_group(connection: AsyncConnection, changed: Group) -> None:
    """Raises Conflict when the name is taken on that site."""
    try:
        await connection.execute(update(groups).where(groups.c.id == changed.id).values(_values(changed)))
    except IntegrityError as error:
        raise Conflict(f"there is a group named {changed.name!r} already") from error


async def delete_group(connection: AsyncConnection, group_id: str) -> None:
    await connection.execute(delete(groups).where(groups.c.id == group_id))


async def get_group(connection: AsyncConnection, group_id: str, *, lock: bool = False) -> Group:
    """Raises NotFound. With `lock`, nobody else changes it until the transaction ends."""
    query = select(groups).where(groups.c.id == group_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("group", group_id)
    return _group(row)


async def list_groups(
    connection: AsyncConnection, *, site_id: str | None, after: str | None, limit: int
) -> Page[Group]:
    query = select(groups)
    if site_id is not None:
        query = query.where(groups.c.site_id == site_id)
    return await fetch_page(connection, query, groups.c.id, _group, after=after, limit=limit)


async def rights_of(connection: AsyncConnection, group_id: str) -> int:
    """How many rights the group has."""
    query = select(func.count()).where(access_right.c.group_id == group_id)
    return int((await connection.execute(query)).scalar_one())


async def tariffs_of(connection: AsyncConnection, group_id: str, now: datetime) -> int:
    """How many tariffs are assigned to the group, now or later."""
    query = select(func.count()).where(
        tariff_assignment.c.group_id == group_id,
        or_(tariff_assignment.c.valid_to.is_(None), tariff_assignment.c.valid_to > now),
    )
    return int((await connection.execute(query)).scalar_one())


async def find_member(connection: AsyncConnection, member_id: str) -> tuple[str, str] | None:
    """The site and the name of a member."""
    query = select(members.c.site_id, members.c.name).where(members.c.id == member_id)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else (row.site_id, row.name)


async def put_in(connection: AsyncConnection, dialect: str, group_id: str, member_id: str) -> bool:
    """False when the member was in the group already."""
    row = {"group_id": group_id, "member_id": member_id}
    statement = upsert(dialect, membership).values(row).on_conflict_do_nothing()
    found = await connection.execute(statement.returning(membership.c.member_id))
    return found.first() is not None


async def take_out(connection: AsyncConnection, group_id: str, member_id: str) -> bool:
    """False when the member was not in the group."""
    gone = delete(membership).where(membership.c.group_id == group_id, membership.c.member_id == member_id)
    return (await connection.execute(gone)).rowcount == 1


async def members_in(
    connection: AsyncConnection, group_id: str, *, after: str | None, limit: int
) -> Page[str]:
    """Ids of the members of a group."""
    query = select(membership.c.member_id).where(membership.c.group_id == group_id)
    return await fetch_page(
        connection, query, membership.c.member_id, lambda row: str(row.member_id), after=after, limit=limit
    )


async def groups_of(connection: AsyncConnection, member_id: str) -> tuple[Group, ...]:
    query = select(groups).join(membership, membership.c.group_id == groups.c.id)
    rows = await connection.execute(query.where(membership.c.member_id == member_id).order_by(groups.c.id))
    return tuple(_group(row) for row in rows)


async def groups_by_member(connection: AsyncConnection, site_id: str) -> dict[str, list[Group]]:
    """The groups of every member of a site that is in one."""
    query = select(groups, membership.c.member_id).join(membership, membership.c.group_id == groups.c.id)
    found: dict[str, list[Group]] = {}
    for row in await connection.execute(query.where(groups.c.site_id == site_id)):
        found.setdefault(row.member_id, []).append(_group(row))
    return found


def _values(group: Group) -> dict[str, Any]:
    return {
        "id": group.id,
        "site_id": group.site_id,
        "name": group.name,
        "priority": group.priority,
        "weight_milli": round(group.weight * 1000),
        "created_at": group.created_at,
    }


def _group(row: Row[Any]) -> Group:
    return Group(
        id=row.id,
        site_id=row.site_id,
        name=row.name,
        priority=row.priority,
        weight=row.weight_milli / 1000,
        created_at=row.created_at,
    )
