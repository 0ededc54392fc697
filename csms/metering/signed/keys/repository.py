"""Rows of meters' keys."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Row, func, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.metering.signed.public_key import PublicKey
from csms.store.dialects import upsert
from csms.store.paging import Page, fetch_page
from csms.store.tables.metering import meter_key as keys


async def get_key(connection: AsyncConnection, key_id: str) -> MeterKey:
    """Raises NotFound."""
    row = (await connection.execute(select(keys).where(keys.c.id == key_id))).one_or_none()
    if row is None:
        raise NotFound("meter key", key_id)
    return _key(row)


async def find(connection: AsyncConnection, serial: str, fingerprint: str) -> MeterKey | None:
    query = select(keys).where(keys.c.serial == serial, keys.c.fingerprint == fingerprint)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else _key(row)


async def of_serials(connection: AsyncConnection, serials: Iterable[str]) -> Mapping[str, Sequence[MeterKey]]:
    """All keys of those meters, by serial number."""
    found: dict[str, list[MeterKey]] = {serial: [] for serial in serials}
    if found:
        query = select(keys).where(keys.c.serial.in_(list(found))).order_by(keys.c.created_at, keys.c.id)
        for row in await connection.execute(query):
            found[row.serial].append(_key(row))
    return found


async def list_keys(
    connection: AsyncConnection,
    serial: str | None,
    state: KeyState | None,
    *,
    after: str | None,
    limit: int,
) -> Page[MeterKey]:
    query = select(keys)
    if serial is not None:
        query = query.where(keys.c.serial == serial)
    if state is not None:
        query = query.where(keys.c.state == state.value)
    return await fetch_page(connection, query, keys.c.id, _key, after=after, limit=limit)


async def insert_key(connection: AsyncConnection, key: MeterKey) -> None:
    await connection.execute(insert(keys).values(_values(key)))


async def insert_found(connection: AsyncConnection, dialect: str, key: MeterKey, most: int) -> None:
    """A key that came with data, unless it is known or `most` such keys of the meter are."""
    count = select(func.count()).where(
        keys.c.serial == key.serial, keys.c.state == KeyState.UNCONFIRMED.value
    )
    if (await connection.execute(count)).scalar_one() >= most:
        return
    statement = upsert(dialect, keys).values(_values(key))
    await connection.execute(
        statement.on_conflict_do_nothing(index_elements=[keys.c.serial, keys.c.fingerprint])
    )


async def update_key(connection: AsyncConnection, key: MeterKey) -> None:
    values = {name: value for name, value in _values(key).items() if name != "id"}
    await connection.execute(update(keys).where(keys.c.id == key.id).values(values))


def _values(key: MeterKey) -> dict[str, Any]:
    return {
        "id": key.id,
        "serial": key.serial,
        "key_hex": key.key.hex,
        "fingerprint": key.key.fingerprint,
        "curve": key.key.curve,
        "state": key.state.value,
        "valid_from": key.valid_from,
        "valid_to": key.valid_to,
        "note": key.note,
        "source": key.source[:120],
        "created_at": key.created_at,
        "confirmed_at": key.confirmed_at,
    }


def _key(row: Row[Any]) -> MeterKey:
    return MeterKey(
        id=row.id,
        serial=row.serial,
        key=PublicKey(bytes.fromhex(row.key_hex), row.curve),
        state=KeyState(row.state),
        valid_from=row.valid_from,
        valid_to=row.valid_to,
        note=row.note,
        source=row.source,
        created_at=row.created_at,
        confirmed_at=row.confirmed_at,
    )
