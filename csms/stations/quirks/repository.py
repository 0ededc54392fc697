"""The SQL of quirks, and of stations that are taken to speak OCPP 1.6."""

from typing import Any

from sqlalchemy import Row, delete, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.stations.quirks.quirk import Quirk
from csms.store.dialects import upsert
from csms.store.tables.quirks import station_manner, station_quirk

COLUMNS = (
    "vendor",
    "model",
    "firmware",
    "energy_factor",
    "power_factor",
    "current_factor",
    "zone",
    "false_z",
    "note",
)


async def add_quirk(connection: AsyncConnection, quirk: Quirk) -> int:
    values = {name: getattr(quirk, name) for name in COLUMNS}
    key = (await connection.execute(insert(station_quirk).values(values))).inserted_primary_key
    assert key is not None
    return int(key[0])


async def drop_quirk(connection: AsyncConnection, quirk_id: int) -> None:
    gone = await connection.execute(delete(station_quirk).where(station_quirk.c.id == quirk_id))
    if gone.rowcount != 1:
        raise NotFound("quirk", quirk_id)


async def all_quirks(connection: AsyncConnection) -> tuple[Quirk, ...]:
    rows = await connection.execute(select(station_quirk).order_by(station_quirk.c.id))
    return tuple(_quirk(row) for row in rows)


async def assumes_16(connection: AsyncConnection, station_id: str) -> bool:
    wanted = select(station_manner.c.assume_16).where(station_manner.c.station_id == station_id)
    return bool((await connection.execute(wanted)).scalar_one_or_none())


async def assume_16(connection: AsyncConnection, dialect: str, station_id: str, assume: bool) -> None:
    statement = upsert(dialect, station_manner).values(station_id=station_id, assume_16=assume)
    changed = {"assume_16": assume}
    await connection.execute(statement.on_conflict_do_update(index_elements=["station_id"], set_=changed))


def _quirk(row: Row[Any]) -> Quirk:
    return Quirk(id=row.id, **{name: getattr(row, name) for name in COLUMNS})
