"""Rows of emission factors."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import delete, insert, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.metering.emissions.factor import EmissionFactor
from csms.store.tables.metering import emission_factor as factors


async def between(
    connection: AsyncConnection, site_id: str, start: datetime, end: datetime, most: int | None = None
) -> tuple[EmissionFactor, ...]:
    """The factors of which something lies in that time, in order."""
    query = (
        select(factors)
        .where(factors.c.site_id == site_id, factors.c.from_at < end, factors.c.to_at > start)
        .order_by(factors.c.from_at)
    )
    rows = await connection.execute(query if most is None else query.limit(most))
    return tuple(EmissionFactor(row.from_at, row.to_at, row.mg_per_kwh) for row in rows)


async def remove(connection: AsyncConnection, site_id: str, start: datetime, end: datetime) -> int:
    """Those that lie within; how many."""
    done = await connection.execute(
        delete(factors).where(
            factors.c.site_id == site_id, factors.c.from_at >= start, factors.c.to_at <= end
        )
    )
    return done.rowcount


async def add(connection: AsyncConnection, site_id: str, new: Sequence[EmissionFactor]) -> None:
    rows = [
        {"site_id": site_id, "from_at": each.from_at, "to_at": each.to_at, "mg_per_kwh": each.mg_per_kwh}
        for each in new
    ]
    await connection.execute(insert(factors), rows)
