"""Feeds, their documents and prices, as the rest of the program holds them."""

import asyncio
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TypedDict, Unpack

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.money import Currency
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page
from csms.tariffs.market import repository
from csms.tariffs.market.document import PriceDocument
from csms.tariffs.market.feed import Feed, check_feed
from csms.tariffs.market.inputs import parse_source
from csms.tariffs.market.reading import read_document
from csms.tariffs.market.series import Gap, Market, PriceSeries, lay
from csms.tariffs.market.stored import StoredDocument, Taken

LONGEST_NAME = 200
LONGEST_FAULT = 500
LONGEST_LOOK = timedelta(days=370)
STORED = "prices.stored"
FAILED = "prices.failed"
RECOVERED = "prices.recovered"


class FeedChanges(TypedDict, total=False):
    """What of a feed can change. Its currency stays: prices are in it."""

    name: str
    area: str | None
    sequence: int | None
    minutes: int | None
    source: Mapping[str, object] | None


class MarketService:
    """Takes documents in and says which price holds. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create_feed(
        self,
        *,
        name: str,
        currency: str,
        area: str | None = None,
        sequence: int | None = None,
        minutes: int | None = None,
        source: Mapping[str, object] | None = None,
        id: str | None = None,
    ) -> Feed:
        """A new feed without prices. `id` is made up when none is given; tariffs name it."""
        feed = Feed(
            id=new_id("feed") if id is None else id,
            name=name.strip(),
            currency=Currency(currency),
            area=area,
            sequence=sequence,
            minutes=minutes,
            source=source,
            created_at=self._clock.now(),
        )
        self._check(feed)
        async with self._database.write() as connection:
            await repository.insert_feed(connection, feed)
            await put(connection, self._fact("feed.created", feed))
        return feed

    async def update_feed(self, feed_id: str, **changes: Unpack[FeedChanges]) -> Feed:
        """The feed after `changes`; what was wrong with an earlier source is forgotten with it."""
        async with self._database.write() as connection:
            feed = await repository.get_feed(connection, feed_id, lock=True)
            changed = replace(feed, **changes)
            if changed.source != feed.source:
                changed = replace(changed, fault="", fault_at=None, checked_at=None)
            self._check(changed)
            if changed != feed:
                await repository.update_feed(connection, changed)
                await put(connection, self._fact("feed.changed", changed))
        return changed

    async def delete_feed(self, feed_id: str) -> None:
        """Remove a feed that never had a document; Conflict otherwise, as sessions may be priced by them."""
        async with self._database.write() as connection:
            feed = await repository.get_feed(connection, feed_id, lock=True)
            if count := await repository.count_documents(connection, feed_id):
                raise Conflict(f"feed {feed.name} has {count} documents, which stay; take its source away")
            await repository.delete_feed(connection, feed_id)
            await put(connection, self._fact("feed.deleted", feed))

    async def get_feed(self, feed_id: str) -> Feed:
        async with self._database.read() as connection:
            return await repository.get_feed(connection, feed_id)

    async def list_feeds(self, *, after: str | None = None, limit: int = 50) -> Page[Feed]:
        """In order of their ids."""
        async with self._database.read() as connection:
            return await repository.list_feeds(connection, after=after, limit=limit)

    async def take_in(self, feed_id: str, raw: bytes, name: str) -> Taken:
        """Read a document and keep it with its prices, all of it or nothing; `name` says where from.

        The same bytes again are no new document. Conflict when they differ from what came under the
        same name and revision before. Announces `prices.stored`.
        """
        sha256 = hashlib.sha256(raw).hexdigest()
        async with self._database.read() as connection:
            feed = await repository.get_feed(connection, feed_id)
            same = await repository.find_same(connection, feed_id, sha256)
        if same is not None:
            return Taken(same, new=False)
        read = await asyncio.to_thread(read_document, raw, feed)
        now = self._clock.now()
        new = StoredDocument(
            id=new_id(f"mpd_{now:%Y%m%d%H%M%S}"),
            feed_id=feed_id,
            kind=read.kind,
            name=name[:LONGEST_NAME],
            sha256=sha256,
            mrid=read.mrid,
            revision=read.revision,
            made_at=read.created_at,
            received_at=now,
            start=read.start,
            end=read.end,
        )
        async with self._database.write() as connection:
            await repository.get_feed(connection, feed_id, lock=True)
            same = await repository.find_same(connection, feed_id, new.sha256)
            if same is not None:
                return Taken(same, new=False)
            last = await repository.last_received(connection, feed_id)
            if last is not None and last >= now:
                new = replace(new, received_at=last + timedelta(microseconds=1))  # one after the other
            corrects = await self._corrects(connection, new)
            await repository.insert_document(connection, new, raw, read.prices)
            await put(connection, self._stored(feed, new, read, corrects))
        return Taken(new, new=True)

    async def checked(self, feed_id: str, fault: str = "") -> Feed:
        """The feed's source was asked; `fault` says what was wrong, "" that nothing was."""
        now = self._clock.now()
        async with self._database.write() as connection:
            feed = await repository.get_feed(connection, feed_id, lock=True)
            fault = fault[:LONGEST_FAULT]
            since = (feed.fault_at or now) if fault else None
            changed = replace(feed, checked_at=now, fault=fault, fault_at=since)
            await repository.update_feed(connection, changed)
            if bool(feed.fault) != bool(fault):
                topic = FAILED if fault else RECOVERED
                await put(connection, self._fact(topic, changed, fault=fault or feed.fault))
        return changed

    async def documents(
        self, feed_id: str, *, after: str | None = None, limit: int = 50
    ) -> Page[StoredDocument]:
        """The newest first."""
        async with self._database.read() as connection:
            await repository.get_feed(connection, feed_id)
            return await repository.list_documents(connection, feed_id, after=after, limit=limit)

    async def document(self, document_id: str) -> StoredDocument:
        async with self._database.read() as connection:
            return await repository.get_document(connection, document_id)

    async def raw(self, document_id: str) -> bytes:
        """The document's bytes as they came."""
        async with self._database.read() as connection:
            return await repository.raw_of(connection, document_id)

    async def series(
        self, feed_id: str, start: datetime, end: datetime, *, known_at: datetime | None = None
    ) -> PriceSeries:
        """The prices that touch the time from `start` to `end` (aware).

        `known_at`: as they were known then, by the documents received until that instant.
        """
        async with self._database.read() as connection:
            feed = await repository.get_feed(connection, feed_id)
            told = await repository.told(connection, feed_id, start, end, known_at)
        return lay(feed_id, feed.currency, told)

    async def market(
        self, feed_ids: Iterable[str], start: datetime, end: datetime, *, known_at: datetime | None = None
    ) -> Market:
        """The series of several feeds, by their ids; an end that is not after the start still asks for it."""
        end = max(end, start + timedelta(microseconds=1))
        found = {}
        for feed_id in sorted(set(feed_ids)):
            found[feed_id] = await self.series(feed_id, start, end, known_at=known_at)
        return found

    async def gaps(self, feed_id: str, start: datetime, end: datetime) -> tuple[Gap, ...]:
        """Where from `start` to `end` the feed has no price."""
        return (await self.series(feed_id, start, end)).gaps(start, end)

    def _check(self, feed: Feed) -> None:
        check_feed(feed)
        if feed.source is not None:
            parse_source(feed.source, "source")

    async def _corrects(self, connection: Connection, new: StoredDocument) -> bool:
        """Whether it says anew what was said before."""
        named = () if new.mrid is None else await repository.revisions(connection, new.feed_id, new.mrid)
        if any(document.revision == new.revision for document in named):
            raise Conflict(
                f"document {new.mrid}, revision {new.revision}, came before with other content; "
                "a correction must have a higher revision"
            )
        overlap = await repository.count_documents(connection, new.feed_id, new.start, new.end)
        return bool(named) or overlap > 0

    def _stored(self, feed: Feed, new: StoredDocument, read: PriceDocument, corrects: bool) -> Fact:
        return self._fact(
            STORED,
            feed,
            document=new.id,
            revision=new.revision,
            start=new.start.isoformat(),
            end=new.end.isoformat(),
            prices=len(read.prices),
            corrects=corrects,
        )

    def _fact(self, topic: str, feed: Feed, **body: object) -> Fact:
        about = {"feed": feed.name, **body}
        return Fact(topic=topic, at=self._clock.now(), subject=feed.id, body=about)


def check_look(start: datetime, end: datetime) -> None:
    """InvalidInput (`end`) when it is not later than the start, or by more than is looked at at once."""
    if end <= start:
        raise InvalidInput("end", "must be later than start")
    if end - start > LONGEST_LOOK:
        raise InvalidInput("end", f"at most {LONGEST_LOOK.days} days after start; ask in parts")
