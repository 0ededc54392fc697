"""Rows of steps that fitted nowhere, and what became of them."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.sessions.session import OrphanStep
from csms.store.paging import Page, fetch_page
from csms.store.tables.sessions import orphan_step as orphans
from csms.store.tables.stations import station as stations


async def list_orphans(
    connection: AsyncConnection,
    station_id: str | None = None,
    site_id: str | None = None,
    resolved: bool | None = None,
    *,
    after: str | None,
    limit: int,
) -> Page[OrphanStep]:
    """The newest first."""
    query = select(orphans)
    if station_id is not None:
        query = query.where(orphans.c.station_id == station_id)
    if site_id is not None:
        of_site = select(stations.c.id).where(stations.c.site_id == site_id)
        query = query.where(orphans.c.station_id.in_(of_site))
    if resolved is not None:
        query = query.where(
            orphans.c.resolved_at.is_not(None) if resolved else orphans.c.resolved_at.is_(None)
        )
    return await fetch_page(
        connection, query, orphans.c.id, _orphan, after=after, limit=limit, descending=True
    )


async def get_orphan(connection: AsyncConnection, orphan_id: int, *, lock: bool = False) -> OrphanStep:
    """Raises NotFound."""
    query = select(orphans).where(orphans.c.id == orphan_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("orphan step", orphan_id)
    return _orphan(row)


async def resolve(
    connection: AsyncConnection,
    orphan_id: int,
    *,
    at: datetime,
    by: str,
    session_id: int | None,
    note: str,
) -> None:
    values = {"resolved_at": at, "resolved_by": by[:120], "session_id": session_id, "note": note}
    await connection.execute(update(orphans).where(orphans.c.id == orphan_id).values(values))


def _orphan(row: Row[Any]) -> OrphanStep:
    return OrphanStep(
        row.id,
        row.station_id,
        row.at,
        row.arrived_at,
        row.reason,
        row.body,
        resolved_at=row.resolved_at,
        resolved_by=row.resolved_by,
        session_id=row.session_id,
        note=row.note,
    )
