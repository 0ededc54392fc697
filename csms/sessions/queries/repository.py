"""What is asked of sessions: lists, and who charged lately."""

from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.sessions.repository import session_of
from csms.sessions.session import OPEN, LastCharge, Session, SessionFilter
from csms.store.paging import Page, fetch_page
from csms.store.tables.sessions import session as sessions

_OPEN = [state.value for state in OPEN]


async def list_sessions(
    connection: AsyncConnection, wanted: SessionFilter, *, after: str | None, limit: int
) -> Page[Session]:
    """The newest first."""
    query = select(sessions)
    for name in ("site_id", "station_id", "member_id", "token_id"):
        value = getattr(wanted, name)
        if value is not None:
            query = query.where(sessions.c[name] == value)
    if wanted.from_at is not None:
        query = query.where(sessions.c.started_at >= wanted.from_at)
    if wanted.to_at is not None:
        query = query.where(sessions.c.started_at < wanted.to_at)
    if wanted.open is not None:
        state = sessions.c.state
        query = query.where(state.in_(_OPEN) if wanted.open else state.not_in(_OPEN))
    if wanted.priced is not None:
        cost = sessions.c.cost_excl_minor
        query = query.where(cost.is_not(None) if wanted.priced else cost.is_(None))
    return await fetch_page(
        connection, query, sessions.c.id, session_of, after=after, limit=limit, descending=True
    )


async def open_sessions(connection: AsyncConnection, site_id: str | None) -> tuple[Session, ...]:
    query = select(sessions).where(sessions.c.state.in_(_OPEN))
    if site_id is not None:
        query = query.where(sessions.c.site_id == site_id)
    return tuple(session_of(row) for row in await connection.execute(query.order_by(sessions.c.id)))


async def last_charges(
    connection: AsyncConnection, site_id: str, since: datetime, by_token: bool
) -> tuple[LastCharge, ...]:
    """One for each member, or each of its tokens, with sessions since then; the latest first."""
    last_at = func.max(sessions.c.started_at, type_=sessions.c.started_at.type).label("last_at")
    energy_wh = func.sum(sessions.c.energy_wh).label("energy_wh")
    keys = [sessions.c.member_id, *([sessions.c.token_id] if by_token else [])]
    query = (
        select(*keys, last_at, func.count().label("sessions"), energy_wh)
        .where(sessions.c.site_id == site_id, sessions.c.started_at >= since)
        .group_by(*keys)
        .order_by(last_at.desc())
    )
    return tuple(
        LastCharge(
            row.member_id, row.token_id if by_token else None, row.last_at, row.sessions, int(row.energy_wh)
        )
        for row in await connection.execute(query)
    )
