"""The SQL of what stations told."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.stations.told.kinds import Told
from csms.store.paging import Page, fetch_page
from csms.store.tables.stations import station_report as reports


async def insert_told(
    connection: AsyncConnection,
    station_id: str,
    *,
    kind: str,
    at: datetime,
    evse: int | None,
    request_id: int | None,
    body: Any,
) -> None:
    values = {
        "station_id": station_id,
        "kind": kind,
        "at": at,
        "evse": evse,
        "request_id": request_id,
        "body": body,
    }
    await connection.execute(insert(reports).values(values))


async def drop_oldest(connection: AsyncConnection, station_id: str, kind: str, keep: int) -> None:
    """Of the station's words of `kind` only the latest `keep` stay."""
    mine = (reports.c.station_id == station_id, reports.c.kind == kind)
    latest = select(reports.c.id).where(*mine).order_by(reports.c.id.desc()).limit(1).offset(keep - 1)
    oldest_kept = (await connection.execute(latest)).scalar_one_or_none()
    if oldest_kept is not None:
        await connection.execute(delete(reports).where(*mine, reports.c.id < oldest_kept))


async def list_told(
    connection: AsyncConnection,
    station_id: str,
    *,
    kind: str | None,
    request_id: int | None,
    after: str | None,
    limit: int,
) -> Page[Told]:
    """The latest first."""
    query = select(reports).where(reports.c.station_id == station_id)
    if kind is not None:
        query = query.where(reports.c.kind == kind)
    if request_id is not None:
        query = query.where(reports.c.request_id == request_id)
    return await fetch_page(connection, query, reports.c.id, _told, after=after, limit=limit, descending=True)


def _told(row: Row[Any]) -> Told:
    return Told(
        id=row.id,
        station_id=row.station_id,
        kind=row.kind,
        at=row.at,
        evse=row.evse,
        request_id=row.request_id,
        body=row.body,
    )
