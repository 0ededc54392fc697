"""Caps from outside in the database."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Row, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import NotFound
from csms.store.paging import Page, fetch_page
from csms.store.tables.power import cap_signal


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSignal:
    """At most `cap_w` below `circuit_id` from `from_at` to before `until_at`, unless it is withdrawn.

    `reason`: who asks for it and why, in their words. `created_by`: who gave it to us.
    """

    id: int
    circuit_id: str
    site_id: str
    cap_w: int
    from_at: datetime
    until_at: datetime
    reason: str
    created_at: datetime
    created_by: str
    withdrawn_at: datetime | None = None

    def in_force(self, now: datetime) -> bool:
        return self.withdrawn_at is None and self.from_at <= now < self.until_at


async def add(connection: AsyncConnection, signal: KeptSignal) -> int:
    """Keep `signal` under a new id, which is returned."""
    columns = [c.name for c in cap_signal.c if c.name != "id"]
    values = {name: getattr(signal, name) for name in columns}
    statement = insert(cap_signal).values(values).returning(cap_signal.c.id)
    return int((await connection.execute(statement)).scalar_one())


async def get(connection: AsyncConnection, circuit_id: str, id: int) -> KeptSignal:
    """Raises NotFound, also for one of another circuit."""
    query = select(cap_signal).where(cap_signal.c.id == id, cap_signal.c.circuit_id == circuit_id)
    row = (await connection.execute(query)).one_or_none()
    if row is None:
        raise NotFound("cap", str(id))
    return _signal(row)


async def withdraw(connection: AsyncConnection, id: int, at: datetime) -> None:
    await connection.execute(update(cap_signal).where(cap_signal.c.id == id).values(withdrawn_at=at))


async def listed(
    connection: AsyncConnection, circuit_id: str, *, after: str | None, limit: int
) -> Page[KeptSignal]:
    """All that the circuit ever had, the newest first."""
    query = select(cap_signal).where(cap_signal.c.circuit_id == circuit_id)
    return await fetch_page(
        connection, query, cap_signal.c.id, _signal, after=after, limit=limit, descending=True
    )


async def coming(connection: AsyncConnection, site_id: str, now: datetime) -> Sequence[KeptSignal]:
    """Those of a site that are in force or will be."""
    query = select(cap_signal).where(
        cap_signal.c.site_id == site_id, cap_signal.c.until_at > now, cap_signal.c.withdrawn_at.is_(None)
    )
    return [_signal(row) for row in await connection.execute(query.order_by(cap_signal.c.id))]


def _signal(row: Row[tuple[object, ...]]) -> KeptSignal:
    return KeptSignal(**row._mapping)
