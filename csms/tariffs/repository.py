"""The SQL of tariffs and their assignments. Works in the transaction of its caller."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, Table, delete, func, insert, or_, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import Conflict, NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import member as members
from csms.store.tables.access import member_group as groups
from csms.store.tables.market import market_feed as feeds
from csms.store.tables.sessions import session as sessions
from csms.store.tables.sites import site as sites
from csms.store.tables.stations import station as stations
from csms.store.tables.tariffs import tariff as tariffs
from csms.store.tables.tariffs import tariff_assignment as assignments
from csms.tariffs.assignment import Assignment
from csms.tariffs.stored import StoredTariff, freeze, thaw

_PLACES: dict[str, Table] = {"station_id": stations, "group_id": groups, "member_id": members}
_SAME = ("tariff_id", "site_id", "station_id", "group_id", "guests", "valid_from", "valid_to")


async def currency_of(connection: AsyncConnection, site_id: str) -> str | None:
    """The site's currency; None when there is no such site."""
    found = await connection.execute(select(sites.c.currency).where(sites.c.id == site_id))
    row = found.one_or_none()
    return None if row is None else str(row.currency)


async def feed_currency(connection: AsyncConnection, feed_id: str) -> str | None:
    """The currency of a price feed; None when there is no such feed."""
    row = (await connection.execute(select(feeds.c.currency).where(feeds.c.id == feed_id))).one_or_none()
    return None if row is None else str(row.currency)


async def site_of(connection: AsyncConnection, field: str, key: str) -> str | None:
    """The site of the station, group or member that a field names; None: there is none."""
    table = _PLACES[field]
    row = (await connection.execute(select(table.c.site_id).where(table.c.id == key))).one_or_none()
    return None if row is None else row.site_id


async def insert_tariff(connection: AsyncConnection, new: StoredTariff) -> None:
    """Raises Conflict when the id is taken."""
    taken = await connection.execute(select(tariffs.c.id).where(tariffs.c.id == new.id))
    if taken.first() is not None:
        raise Conflict(f"there is a tariff {new.id!r} already; a tariff is never edited, create a new one")
    await connection.execute(
        insert(tariffs).values(
            id=new.id,
            site_id=new.site_id,
            name=new.name,
            document={"json": freeze(new.document, "document")},
            created_at=new.created_at,
        )
    )


async def get_tariff(connection: AsyncConnection, tariff_id: str, *, lock: bool = False) -> StoredTariff:
    """Raises NotFound."""
    query = select(tariffs).where(tariffs.c.id == tariff_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("tariff", tariff_id)
    return _tariff(row)


async def list_tariffs(
    connection: AsyncConnection, *, site_id: str | None, after: str | None, limit: int
) -> Page[StoredTariff]:
    query = select(tariffs)
    if site_id is not None:
        query = query.where(tariffs.c.site_id == site_id)
    return await fetch_page(connection, query, tariffs.c.id, _tariff, after=after, limit=limit)


async def delete_tariff(connection: AsyncConnection, tariff_id: str) -> None:
    await connection.execute(delete(tariffs).where(tariffs.c.id == tariff_id))


async def uses(connection: AsyncConnection, tariff_id: str) -> dict[str, int]:
    """How many assignments and priced sessions the tariff has; only those that are there."""
    counted = {
        "assignments": select(func.count()).where(assignments.c.tariff_id == tariff_id),
        "priced sessions": select(func.count()).where(sessions.c.tariff_id == tariff_id),
    }
    found = {what: int((await connection.execute(query)).scalar_one()) for what, query in counted.items()}
    return {what: count for what, count in found.items() if count}


async def priced_since(
    connection: AsyncConnection, site_id: str, tariff_id: str, since: datetime, until: datetime | None
) -> int:
    """How many of the site's sessions that began from `since` (to `until`) the tariff has priced."""
    query = select(func.count()).where(
        sessions.c.site_id == site_id, sessions.c.tariff_id == tariff_id, sessions.c.started_at >= since
    )
    if until is not None:
        query = query.where(sessions.c.started_at < until)
    return int((await connection.execute(query)).scalar_one())


async def insert_assignment(connection: AsyncConnection, new: Assignment, created_at: datetime) -> None:
    await connection.execute(insert(assignments).values(**_values(new), created_at=created_at))


async def find_same(connection: AsyncConnection, wanted: Assignment) -> Assignment | None:
    """An assignment that says the same, whatever its id."""
    values = _values(wanted)
    query = select(assignments)
    for name in _SAME:
        query = query.where(assignments.c[name].is_not_distinct_from(values[name]))
    row = (await connection.execute(query.order_by(assignments.c.id).limit(1))).one_or_none()
    return None if row is None else _assignment(row)


async def get_assignment(
    connection: AsyncConnection, assignment_id: str, *, lock: bool = False
) -> Assignment:
    """Raises NotFound."""
    query = select(assignments).where(assignments.c.id == assignment_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("tariff assignment", assignment_id)
    return _assignment(row)


async def list_assignments(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    tariff_id: str | None,
    after: str | None,
    limit: int,
) -> Page[Assignment]:
    query = select(assignments)
    if site_id is not None:
        query = query.where(assignments.c.site_id == site_id)
    if tariff_id is not None:
        query = query.where(assignments.c.tariff_id == tariff_id)
    return await fetch_page(connection, query, assignments.c.id, _assignment, after=after, limit=limit)


async def end_assignment(connection: AsyncConnection, assignment_id: str, at: datetime) -> None:
    await connection.execute(update(assignments).where(assignments.c.id == assignment_id).values(valid_to=at))


async def delete_assignment(connection: AsyncConnection, assignment_id: str) -> None:
    await connection.execute(delete(assignments).where(assignments.c.id == assignment_id))


async def candidates(
    connection: AsyncConnection, site_id: str, station_id: str
) -> tuple[tuple[Assignment, ...], dict[str, StoredTariff]]:
    """The assignments that may fit a session at the station, and their tariffs by id."""
    query = select(assignments).where(
        assignments.c.site_id == site_id,
        or_(assignments.c.station_id.is_(None), assignments.c.station_id == station_id),
    )
    found = tuple(_assignment(row) for row in await connection.execute(query.order_by(assignments.c.id)))
    ids = sorted({assignment.tariff_id for assignment in found})
    rows = await connection.execute(select(tariffs).where(tariffs.c.id.in_(ids)))
    return found, {row.id: _tariff(row) for row in rows}


def _tariff(row: Row[Any]) -> StoredTariff:
    document, tariff = thaw(row.document["json"], row.id)
    return StoredTariff(
        id=row.id,
        site_id=row.site_id,
        name=row.name,
        document=document,
        tariff=tariff,
        created_at=row.created_at,
    )


def _assignment(row: Row[Any]) -> Assignment:
    return Assignment(
        id=row.id,
        tariff_id=row.tariff_id,
        site_id=row.site_id,
        station_id=row.station_id,
        group_id=row.group_id,
        guests=row.guests,
        valid_from=row.valid_from,
        valid_until=row.valid_to,
    )


def _values(assignment: Assignment) -> dict[str, Any]:
    return {
        "id": assignment.id,
        "tariff_id": assignment.tariff_id,
        "site_id": assignment.site_id,
        "station_id": assignment.station_id,
        "group_id": assignment.group_id,
        "guests": assignment.guests,
        "valid_from": assignment.valid_from,
        "valid_to": assignment.valid_until,
    }
