"""Prices come back exact, and as they were known at a time; on both databases."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from csms.errors import Conflict, NotFound
from csms.store.database import Database
from csms.tariffs.market import repository
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.series import MarketPrice, lay
from csms.tariffs.market.stored import StoredDocument

DAY = datetime(2026, 1, 14, 23, tzinfo=UTC)
HOUR = timedelta(hours=1)


def stored(name: str, mrid: str | None, revision: int, came: int, hours: int) -> StoredDocument:
    return StoredDocument(
        id=f"mpd_{name}",
        feed_id="mill",
        kind="a44",
        name=name,
        sha256=name * 64,
        mrid=mrid,
        revision=revision,
        made_at=None,
        received_at=DAY + came * HOUR,
        start=DAY,
        end=DAY + hours * HOUR,
    )


def hourly(*per_mwh: str) -> list[MarketPrice]:
    return [
        MarketPrice(start=DAY + i * HOUR, end=DAY + (i + 1) * HOUR, per_mwh=Decimal(price))
        for i, price in enumerate(per_mwh)
    ]


async def test_documents_prices_and_what_was_known_when(
    database: Database, feed: Callable[..., Feed]
) -> None:
    made = feed(source={"kind": "folder", "path": "mill"}, minutes=60)
    first, second, other = stored("a", "M", 1, 1, 3), stored("b", "M", 2, 5, 2), stored("c", None, 1, 3, 3)
    async with database.write() as connection:
        await repository.insert_feed(connection, made)
        with pytest.raises(Conflict):
            await repository.insert_feed(connection, made)
        await repository.insert_document(connection, first, b"<a/>\x00", hourly("80.00", "-1.2", "0.123456"))
        await repository.insert_document(connection, other, b"c", hourly("1", "2", "3"))
        await repository.insert_document(connection, second, b"b", hourly("7", "8.5"))
    async with database.read() as connection:
        assert await repository.get_feed(connection, "mill") == made
        assert await repository.raw_of(connection, "mpd_a") == b"<a/>\x00"
        assert await repository.get_document(connection, "mpd_b") == second
        assert await repository.find_same(connection, "mill", "c" * 64) == other
        assert await repository.revisions(connection, "mill", "M") == (first, second)
        listed = await repository.list_documents(connection, "mill", after=None, limit=2)
        assert [document.id for document in listed.items] == ["mpd_c", "mpd_b"]

        async def prices(known: int | None, start: int = 0, end: int = 9) -> list[str]:
            known_at = None if known is None else DAY + known * HOUR
            told = await repository.told(connection, "mill", DAY + start * HOUR, DAY + end * HOUR, known_at)
            return [f"{price.per_mwh:f}" for price in lay("mill", made.currency, told).prices]

        assert await prices(0) == []
        assert await prices(1) == ["80.00", "-1.20", "0.123456"]
        assert await prices(3) == ["1.00", "2.00", "3.00"]
        assert await prices(None) == ["7.00", "8.50", "3.00"]
        assert await prices(None, 1, 2) == ["8.50"]
        assert await prices(None, 2, 3) == ["3.00"], "the revision is silent here, so is what it replaced"
        for missing in (
            repository.get_feed(connection, "none"),
            repository.get_document(connection, "none"),
            repository.raw_of(connection, "none"),
        ):
            with pytest.raises(NotFound):
                await missing
