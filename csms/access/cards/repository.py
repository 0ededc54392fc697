"""Rows of unknown cards."""

from typing import Any

from sqlalchemy import Row, delete, select
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.cards.card import UnknownCard
from csms.stations.model import TokenKind
from csms.store.dialects import upsert
from csms.store.tables.access import unknown_card as cards
from csms.store.tables.stations import station as stations


async def note(connection: AsyncConnection, dialect: str, card: UnknownCard) -> None:
    """Remember a card held to a charger: new, or once more."""
    row = {
        "folded": card.folded,
        "text": card.text,
        "kind": card.kind.value,
        "station_id": card.station_id,
        "evse": card.evse,
        "first_seen_at": card.first_seen_at,
        "last_seen_at": card.last_seen_at,
        "times": card.times,
    }
    again = {
        "station_id": card.station_id,
        "evse": card.evse,
        "last_seen_at": card.last_seen_at,
        "times": cards.c.times + card.times,
    }
    statement = upsert(dialect, cards).values(row)
    await connection.execute(statement.on_conflict_do_update(index_elements=[cards.c.folded], set_=again))


async def find(connection: AsyncConnection, folded: str) -> UnknownCard | None:
    row = (await connection.execute(select(cards).where(cards.c.folded == folded))).one_or_none()
    return None if row is None else _card(row)


async def forget(connection: AsyncConnection, folded: str) -> bool:
    """False when it was not there."""
    return (await connection.execute(delete(cards).where(cards.c.folded == folded))).rowcount == 1


async def latest(connection: AsyncConnection, site_id: str | None, limit: int) -> tuple[UnknownCard, ...]:
    """The cards held last, newest first; of one site's stations, or of all."""
    query = select(cards)
    if site_id is not None:
        query = query.join(stations, stations.c.id == cards.c.station_id)
        query = query.where(stations.c.site_id == site_id)
    query = query.order_by(cards.c.last_seen_at.desc(), cards.c.folded).limit(limit)
    return tuple(_card(row) for row in await connection.execute(query))


def _card(row: Row[Any]) -> UnknownCard:
    return UnknownCard(
        folded=row.folded,
        text=row.text,
        kind=TokenKind(row.kind),
        station_id=row.station_id,
        evse=row.evse,
        first_seen_at=row.first_seen_at,
        last_seen_at=row.last_seen_at,
        times=row.times,
    )
