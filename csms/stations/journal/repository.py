"""The SQL of the journal of commands."""

from datetime import datetime
from typing import Any

from sqlalchemy import Row, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.stations.commands import CommandStatus
from csms.stations.journal.lifecycle import CommandRecord, CommandState
from csms.store.paging import Page, fetch_page
from csms.store.tables.stations import station as stations
from csms.store.tables.stations import station_command as commands


async def insert_command(connection: AsyncConnection, record: CommandRecord) -> bool:
    """False when there is no such station."""
    known = select(stations.c.id).where(stations.c.id == record.station_id)
    if (await connection.execute(known)).one_or_none() is None:
        return False
    values = {
        "id": record.id,
        "station_id": record.station_id,
        "kind": record.kind,
        "body": record.body,
        "state": record.state.value,
        "asked_by": record.asked_by,
        "asked_at": record.asked_at,
    }
    await connection.execute(insert(commands).values(values))
    return True


async def find_command(
    connection: AsyncConnection, command_id: str, *, lock: bool = False
) -> CommandRecord | None:
    query = select(commands).where(commands.c.id == command_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    return None if row is None else _record(row)


async def end_command(connection: AsyncConnection, record: CommandRecord) -> None:
    """Write what came of the command."""
    values = {
        "state": record.state.value,
        "status": record.status and record.status.value,
        "detail": record.detail,
        "data": record.data,
        "answered_at": record.answered_at,
    }
    await connection.execute(update(commands).where(commands.c.id == record.id).values(values))


async def list_commands(
    connection: AsyncConnection, station_id: str, *, after: str | None, limit: int
) -> Page[CommandRecord]:
    """The latest first."""
    query = select(commands).where(commands.c.station_id == station_id)
    return await fetch_page(
        connection, query, commands.c.id, _record, after=after, limit=limit, descending=True
    )


async def open_commands(connection: AsyncConnection) -> tuple[CommandRecord, ...]:
    query = select(commands).where(commands.c.state == CommandState.ASKED.value).order_by(commands.c.id)
    return tuple(_record(row) for row in await connection.execute(query))


async def last_with_status(
    connection: AsyncConnection, station_id: str, kind: str, status: CommandStatus
) -> datetime | None:
    """When a command of `kind` was last answered with `status`."""
    query = (
        select(commands.c.answered_at)
        .where(commands.c.station_id == station_id, commands.c.kind == kind)
        .where(commands.c.status == status.value)
        .order_by(commands.c.answered_at.desc())
        .limit(1)
    )
    found: datetime | None = (await connection.execute(query)).scalar_one_or_none()
    return found


async def station_label(connection: AsyncConnection, station_id: str) -> tuple[str | None, str]:
    """The station's site and what people call it."""
    query = select(stations.c.site_id, stations.c.name).where(stations.c.id == station_id)
    row = (await connection.execute(query)).one_or_none()
    return (None, station_id) if row is None else (row.site_id, row.name or station_id)


def _record(row: Row[Any]) -> CommandRecord:
    return CommandRecord(
        id=row.id,
        station_id=row.station_id,
        kind=row.kind,
        body=row.body,
        state=CommandState(row.state),
        status=None if row.status is None else CommandStatus(row.status),
        detail=row.detail,
        data=row.data,
        asked_by=row.asked_by,
        asked_at=row.asked_at,
        answered_at=row.answered_at,
    )
