"""The SQL of feeds, their documents and prices. Documents and prices are only added."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.errors import Conflict, NotFound
from csms.money import Currency
from csms.store.paging import Page, fetch_page
from csms.store.tables.market import market_document as documents
from csms.store.tables.market import market_feed as feeds
from csms.store.tables.market import market_price as prices
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.series import MarketPrice, Standing
from csms.tariffs.market.stored import StoredDocument

_ABOUT = [column for column in documents.c if column.name != "raw"]


async def insert_feed(connection: AsyncConnection, new: Feed) -> None:
    """Raises Conflict when the id is taken."""
    taken = await connection.execute(select(feeds.c.id).where(feeds.c.id == new.id))
    if taken.first() is not None:
        raise Conflict(f"there is a price feed {new.id!r} already")
    await connection.execute(insert(feeds).values(_values(new)))


async def update_feed(connection: AsyncConnection, changed: Feed) -> None:
    await connection.execute(update(feeds).where(feeds.c.id == changed.id).values(_values(changed)))


async def delete_feed(connection: AsyncConnection, feed_id: str) -> None:
    await connection.execute(delete(feeds).where(feeds.c.id == feed_id))


async def get_feed(connection: AsyncConnection, feed_id: str, *, lock: bool = False) -> Feed:
    """Raises NotFound."""
    query = select(feeds).where(feeds.c.id == feed_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("price feed", feed_id)
    return _feed(row)


async def list_feeds(connection: AsyncConnection, *, after: str | None, limit: int) -> Page[Feed]:
    return await fetch_page(connection, select(feeds), feeds.c.id, _feed, after=after, limit=limit)


async def count_documents(
    connection: AsyncConnection, feed_id: str, start: datetime | None = None, end: datetime | None = None
) -> int:
    """How many documents the feed has, or has that speak of the time from `start` to `end`."""
    query = select(func.count()).where(documents.c.feed_id == feed_id)
    if start is not None and end is not None:
        query = query.where(documents.c.start_at < end, documents.c.end_at > start)
    return int((await connection.execute(query)).scalar_one())


async def insert_document(
    connection: AsyncConnection, new: StoredDocument, raw: bytes, told: Sequence[MarketPrice]
) -> None:
    row = {name: getattr(new, name) for name in ("id", "feed_id", "kind", "name", "sha256", "mrid")}
    row |= {name: getattr(new, name) for name in ("revision", "made_at", "received_at")}
    row |= {"start_at": new.start, "end_at": new.end, "raw": raw}
    await connection.execute(insert(documents).values(row))
    await connection.execute(
        insert(prices),
        [
            {
                "document_id": new.id,
                "start_at": price.start,
                "end_at": price.end,
                "micro_per_mwh": int(price.per_mwh.scaleb(6)),
            }
            for price in told
        ],
    )


async def last_received(connection: AsyncConnection, feed_id: str) -> datetime | None:
    """When the feed's latest document came."""
    latest = func.max(documents.c.received_at, type_=documents.c.received_at.type)
    found: datetime | None = (
        await connection.execute(select(latest).where(documents.c.feed_id == feed_id))
    ).scalar_one()
    return found


async def find_same(connection: AsyncConnection, feed_id: str, sha256: str) -> StoredDocument | None:
    """The feed's document with the same bytes."""
    query = select(*_ABOUT).where(documents.c.feed_id == feed_id, documents.c.sha256 == sha256)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else _document(row)


async def revisions(connection: AsyncConnection, feed_id: str, mrid: str) -> tuple[StoredDocument, ...]:
    """The feed's documents of that name, in order of their revisions."""
    query = select(*_ABOUT).where(documents.c.feed_id == feed_id, documents.c.mrid == mrid)
    rows = await connection.execute(query.order_by(documents.c.revision))
    return tuple(_document(row) for row in rows)


async def get_document(connection: AsyncConnection, document_id: str) -> StoredDocument:
    """Raises NotFound."""
    row = (await connection.execute(select(*_ABOUT).where(documents.c.id == document_id))).one_or_none()
    if row is None:
        raise NotFound("price document", document_id)
    return _document(row)


async def raw_of(connection: AsyncConnection, document_id: str) -> bytes:
    """The bytes as they came. Raises NotFound."""
    row = (await connection.execute(select(documents.c.raw).where(documents.c.id == document_id))).first()
    if row is None:
        raise NotFound("price document", document_id)
    return bytes(row.raw)


async def list_documents(
    connection: AsyncConnection, feed_id: str, *, after: str | None, limit: int
) -> Page[StoredDocument]:
    """The newest first: ids are in order of time (`csms.ids`)."""
    query = select(*_ABOUT).where(documents.c.feed_id == feed_id)
    return await fetch_page(
        connection, query, documents.c.id, _document, after=after, limit=limit, descending=True
    )


async def told(
    connection: AsyncConnection,
    feed_id: str,
    start: datetime,
    end: datetime,
    known_at: datetime | None,
) -> list[tuple[Standing, list[MarketPrice]]]:
    """What documents received until `known_at` (None: all) say of the time from `start` to `end`.

    A document that has a later revision says nothing any more, whatever the later one covers.
    """
    later = documents.alias()
    replaced = select(later.c.id).where(
        later.c.feed_id == documents.c.feed_id,
        later.c.mrid == documents.c.mrid,
        later.c.revision > documents.c.revision,
    )
    query = (
        select(*_ABOUT, prices.c.start_at.label("at"), prices.c.end_at.label("until"), prices.c.micro_per_mwh)
        .join(prices, prices.c.document_id == documents.c.id)
        .where(
            documents.c.feed_id == feed_id,
            documents.c.start_at < end,
            documents.c.end_at > start,
            prices.c.start_at < end,
            prices.c.end_at > start,
        )
        .order_by(documents.c.id, prices.c.start_at)
    )
    if known_at is not None:
        replaced = replaced.where(later.c.received_at <= known_at)
        query = query.where(documents.c.received_at <= known_at)
    found: dict[str, tuple[Standing, list[MarketPrice]]] = {}
    rows: Any = await connection.execute(query.where(~replaced.exists()))
    for row in rows:
        if row.id not in found:
            found[row.id] = (_document(row).standing, [])
        found[row.id][1].append(
            MarketPrice(
                start=row.at,
                end=row.until,
                per_mwh=_per_mwh(row.micro_per_mwh),
                document_id=row.id,
                revision=row.revision,
            )
        )
    return list(found.values())


def _per_mwh(micro: int) -> Decimal:
    """With two decimals, or as many as it takes."""
    price = Decimal(micro).scaleb(-6)
    cents = price.quantize(Decimal("0.01"))
    return cents if cents == price else price.normalize()


def _feed(row: Row[Any]) -> Feed:
    values = dict(row._mapping)
    return Feed(**{**values, "currency": Currency(values["currency"])})


def _values(feed: Feed) -> dict[str, Any]:
    names = [column.name for column in feeds.c]
    return {**{name: getattr(feed, name) for name in names}, "currency": feed.currency.code}


def _document(row: Row[Any]) -> StoredDocument:
    return StoredDocument(
        id=row.id,
        feed_id=row.feed_id,
        kind=row.kind,
        name=row.name,
        sha256=row.sha256,
        mrid=row.mrid,
        revision=row.revision,
        made_at=row.made_at,
        received_at=row.received_at,
        start=row.start_at,
        end=row.end_at,
    )
