"""The SQL of frames that could not be read."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.stations import quarantine


@dataclass(frozen=True, slots=True, kw_only=True)
class QuarantinedFrame:
    """`frame` as it came, cut when it was very long; `at` is its arrival. `outcome`: of its replay."""

    id: int
    station_id: str
    at: datetime
    reason: str
    frame: bytes
    replayed_at: datetime | None = None
    outcome: str | None = None


async def insert_frame(
    connection: AsyncConnection, station_id: str, *, frame: bytes, reason: str, at: datetime
) -> None:
    values = {"station_id": station_id, "at": at, "reason": reason, "frame": frame}
    await connection.execute(insert(quarantine).values(values))


async def drop_oldest(connection: AsyncConnection, station_id: str, keep: int) -> None:
    """Of the station's frames only the latest `keep` stay."""
    mine = quarantine.c.station_id == station_id
    latest = select(quarantine.c.id).where(mine).order_by(quarantine.c.id.desc()).limit(1).offset(keep - 1)
    oldest_kept = (await connection.execute(latest)).scalar_one_or_none()
    if oldest_kept is not None:
        await connection.execute(delete(quarantine).where(mine, quarantine.c.id < oldest_kept))


async def list_frames(
    connection: AsyncConnection, station_id: str | None, *, after: str | None, limit: int
) -> Page[QuarantinedFrame]:
    """The latest first; of all stations when `station_id` is None."""
    query = select(quarantine)
    if station_id is not None:
        query = query.where(quarantine.c.station_id == station_id)
    return await fetch_page(
        connection, query, quarantine.c.id, _frame, after=after, limit=limit, descending=True
    )


async def get_frame(connection: AsyncConnection, station_id: str, frame_id: int) -> QuarantinedFrame:
    """Raises NotFound when the station has no such frame."""
    wanted = select(quarantine).where(quarantine.c.id == frame_id, quarantine.c.station_id == station_id)
    row = (await connection.execute(wanted)).one_or_none()
    if row is None:
        raise NotFound("frame", frame_id)
    return _frame(row)


async def set_outcome(connection: AsyncConnection, frame_id: int, outcome: str, at: datetime) -> None:
    values = {"outcome": outcome, "replayed_at": at}
    await connection.execute(update(quarantine).where(quarantine.c.id == frame_id).values(values))


async def delete_frame(connection: AsyncConnection, station_id: str, frame_id: int) -> None:
    """Raises NotFound when the station has no such frame."""
    mine = quarantine.c.station_id == station_id
    gone = await connection.execute(delete(quarantine).where(quarantine.c.id == frame_id, mine))
    if gone.rowcount != 1:
        raise NotFound("frame", frame_id)


def _frame(row: Row[Any]) -> QuarantinedFrame:
    return QuarantinedFrame(
        id=row.id,
        station_id=row.station_id,
        at=row.at,
        reason=row.reason,
        frame=bytes(row.frame),
        replayed_at=row.replayed_at,
        outcome=row.outcome,
    )
