"""Rows of invoices and of the main meter's registers."""

from dataclasses import asdict
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, delete, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import Conflict, NotFound
from csms.ledger.pool import Key, Pool
from csms.ledger.supply import SupplyRegister
from csms.store.paging import Page, fetch_page
from csms.store.tables.ledger import pool as pools
from csms.store.tables.ledger import supply_register as registers


async def add_pool(connection: AsyncConnection, new: Pool) -> None:
    """Raises Conflict when the id is taken."""
    try:
        await connection.execute(insert(pools).values(_values(new)))
    except IntegrityError as error:
        raise Conflict(f"there is a pool {new.id!r} already") from error


async def change_pool(connection: AsyncConnection, changed: Pool) -> None:
    await connection.execute(update(pools).where(pools.c.id == changed.id).values(_values(changed)))


async def remove_pool(connection: AsyncConnection, pool_id: str) -> None:
    await connection.execute(delete(pools).where(pools.c.id == pool_id))


async def get_pool(connection: AsyncConnection, pool_id: str) -> Pool:
    """Raises NotFound."""
    row = (await connection.execute(select(pools).where(pools.c.id == pool_id))).one_or_none()
    if row is None:
        raise NotFound("pool", pool_id)
    return _pool(row)


async def page_of_pools(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[Pool]:
    query = select(pools)
    if site_id is not None:
        query = query.where(pools.c.site_id == site_id)
    return await fetch_page(connection, query, pools.c.id, _pool, after=after, limit=limit)


async def pools_of(connection: AsyncConnection, site_id: str, first: date, end: date) -> tuple[Pool, ...]:
    """Invoices with a day from `first` to before `end`, in order of their ids."""
    query = select(pools).where(
        pools.c.site_id == site_id, pools.c.period_start < end, pools.c.period_end > first
    )
    found = [_pool(row) for row in await connection.execute(query)]
    return tuple(sorted(found, key=lambda pool: pool.id))


async def add_register(connection: AsyncConnection, new: SupplyRegister) -> None:
    await connection.execute(insert(registers).values(asdict(new)))


async def remove_register(connection: AsyncConnection, register_id: str) -> None:
    await connection.execute(delete(registers).where(registers.c.id == register_id))


async def get_register(connection: AsyncConnection, register_id: str) -> SupplyRegister:
    """Raises NotFound."""
    row = (await connection.execute(select(registers).where(registers.c.id == register_id))).one_or_none()
    if row is None:
        raise NotFound("supply register", register_id)
    return _register(row)


async def registers_of(connection: AsyncConnection, site_id: str) -> tuple[SupplyRegister, ...]:
    """All of a site, in order of time."""
    query = select(registers).where(registers.c.site_id == site_id).order_by(registers.c.at, registers.c.id)
    return tuple(_register(row) for row in await connection.execute(query))


async def page_of_registers(
    connection: AsyncConnection, site_id: str | None, *, after: str | None, limit: int
) -> Page[SupplyRegister]:
    query = select(registers)
    if site_id is not None:
        query = query.where(registers.c.site_id == site_id)
    return await fetch_page(connection, query, registers.c.id, _register, after=after, limit=limit)


def _values(pool: Pool) -> dict[str, Any]:
    percent = pool.vat_percent
    return {
        **asdict(pool),
        "key": pool.key.value,
        "vat_percent": None if percent is None else f"{percent:f}",
    }


def _pool(row: Row[Any]) -> Pool:
    return Pool(
        id=row.id,
        site_id=row.site_id,
        name=row.name,
        supplier=row.supplier,
        invoice=row.invoice,
        amount_minor=row.amount_minor,
        vat_minor=row.vat_minor,
        vat_percent=None if row.vat_percent is None else Decimal(row.vat_percent),
        currency=row.currency,
        period_start=row.period_start,
        period_end=row.period_end,
        key=Key(row.key),
        created_at=row.created_at,
    )


def _register(row: Row[Any]) -> SupplyRegister:
    return SupplyRegister(
        id=row.id,
        site_id=row.site_id,
        serial=row.serial,
        at=row.at,
        register_wh=row.register_wh,
        created_at=row.created_at,
    )
