"""`/v1/market-prices`: feeds of day-ahead prices, the documents they got, and which price holds.

Prices are decimal strings per MWh, so that nobody's floats come near them.
"""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from api.auth import Asking, GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text, absent
from api.pagination import After, Cursors, Limit, PageOut
from csms.store.paging import Page
from csms.tariffs.market.feed import Feed
from csms.tariffs.market.service import check_look
from csms.tariffs.market.stored import StoredDocument

router = APIRouter(prefix="/market-prices", tags=["market prices"], route_class=GuardedRoute)
feed_cursors = Cursors("price feeds")
document_cursors = Cursors("price documents")

Minutes = Literal[15, 30, 60]
Area = Annotated[str, Field(min_length=1, max_length=20, examples=["10YBE----------2"])]
Sequence = Annotated[int, Field(ge=1, le=99)]
Start = Annotated[Instant, Query(description="Inclusive")]
End = Annotated[Instant, Query(description="Exclusive")]


class FolderIn(Input):
    """A watched file or folder, below `prices` in the data folder."""

    kind: Literal["folder"]
    path: Annotated[str, Field(min_length=1, max_length=200, examples=["day-ahead"])]


class UrlIn(Input):
    """An address, asked on a schedule. `{start}`, `{end}` (YYYYMMDDhhmm, UTC) and `{date}` stand for the
    market day, today and tomorrow; `{secret}` for what the file of secrets holds."""

    kind: Literal["url"]
    url: Annotated[str, Field(min_length=1, max_length=1000, examples=["https://prices.example/{date}"])]
    every_minutes: Annotated[int, Field(ge=5, le=1440)] = 60
    zone: Annotated[str, Field(min_length=1, max_length=64)] = "Europe/Brussels"
    secret: Annotated[str, Field(min_length=1, max_length=80)] | None = Field(
        default=None, description="Name of a file in the folder `secrets` of the data folder"
    )


SourceIn = Annotated[FolderIn | UrlIn, Field(discriminator="kind")]


class NewFeed(Input):
    """`area`, `sequence`, `minutes` choose where a document has several series; left out: any area, the
    lowest sequence, the finest resolution. Without `source`, documents are sent here."""

    id: Ident | None = None
    name: Text
    currency: Text = Field(examples=["EUR"])
    area: Area | None = None
    sequence: Sequence | None = None
    minutes: Minutes | None = None
    source: SourceIn | None = None


class FeedChange(Input):
    """What is left out stays. The currency always does."""

    name: Text = Field(default_factory=absent)
    area: Area | None = None
    sequence: Sequence | None = None
    minutes: Minutes | None = None
    source: SourceIn | None = None


class FeedOut(Output):
    """A feed. `fault`: what was wrong when its source was asked last, since `fault_at`; "": nothing."""

    id: str
    name: str
    currency: str
    area: str | None
    sequence: int | None
    minutes: int | None
    source: dict[str, Any] | None
    created_at: Instant
    checked_at: Instant | None
    fault: str
    fault_at: Instant | None


class DocumentOut(Output):
    """A document as it was taken in. Of one `mrid` the highest revision counts, of several documents the
    one that was made last."""

    id: str
    feed_id: str
    kind: str
    name: str
    sha256: str
    mrid: str | None
    revision: int
    made_at: Instant | None
    received_at: Instant
    start: Instant
    end: Instant


class PriceOut(Output):
    """What holds from `start` to before `end`, and the document that says so."""

    start: Instant
    end: Instant
    price_per_mwh: str
    document_id: str
    revision: int


class PricesOut(Output):
    """Prices in order of time; where there is none there is a gap."""

    currency: str
    items: list[PriceOut]


class GapOut(Output):
    """From `start` to before `end` there is no price."""

    start: Instant
    end: Instant


class GapsOut(Output):
    """The gaps in order of time."""

    items: list[GapOut]


_BINARY = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
_BODY = {"requestBody": {"required": True, "content": _BINARY}}
_RAW: dict[int | str, dict[str, Any]] = {200: {"description": "The bytes as they came", "content": _BINARY}}


@router.get("/feeds", response_model=PageOut[FeedOut])
async def list_feeds(central: TheCentral, limit: Limit = 50, after: After = None) -> PageOut[FeedOut]:
    """All feeds, by id."""
    page = feed_cursors.write(await central.market.list_feeds(after=feed_cursors.read(after), limit=limit))
    return PageOut(items=[_feed(feed) for feed in page.items], next=page.next)


@router.post("/feeds", status_code=201, response_model=FeedOut)
async def create_feed(central: TheCentral, body: NewFeed, response: Response) -> FeedOut:
    """A new feed; a tariff names it in a component of type SPOT."""
    made = await central.market.create_feed(
        id=body.id,
        name=body.name,
        currency=body.currency,
        area=body.area,
        sequence=body.sequence,
        minutes=body.minutes,
        source=_source(body.source),
    )
    response.headers["Location"] = f"/v1/market-prices/feeds/{made.id}"
    return _feed(made)


@router.get("/feeds/{feed_id}", response_model=FeedOut)
async def get_feed(central: TheCentral, feed_id: Id) -> FeedOut:
    """One feed, and how its source does."""
    return _feed(await central.market.get_feed(feed_id))


@router.patch("/feeds/{feed_id}", response_model=FeedOut)
async def change_feed(central: TheCentral, feed_id: Id, body: FeedChange) -> FeedOut:
    """Change what is given; `"source": null` stops asking."""
    changes = body.given()
    if "source" in changes:
        changes["source"] = _source(body.source)
    return _feed(await central.market.update_feed(feed_id, **changes))


@router.delete("/feeds/{feed_id}", status_code=204)
async def delete_feed(central: TheCentral, feed_id: Id) -> None:
    """Remove a feed that never got a document."""
    await central.market.delete_feed(feed_id)


@router.post("/feeds/{feed_id}/fetch", response_model=FeedOut)
async def fetch_now(central: TheCentral, feed_id: Id) -> FeedOut:
    """Ask the feed's source now; `fault` says how that went."""
    return _feed(await central.price_watch.check(feed_id))


@router.post("/feeds/{feed_id}/documents", status_code=201, response_model=DocumentOut, openapi_extra=_BODY)
async def send_document(
    central: TheCentral,
    feed_id: Id,
    request: Request,
    response: Response,
    asking: Asking,
    name: Annotated[Text | None, Query(description="Where it is from, such as a file's name")] = None,
) -> StoredDocument:
    """Take in a document: XML of type A44, or lines `timestamp,price,unit`. All of it or nothing.

    The same bytes again are no new document. Sessions that waited for these prices are priced.
    """
    taken = await central.market.take_in(feed_id, await request.body(), name or f"sent by {asking}")
    response.headers["Location"] = f"/v1/market-prices/documents/{taken.document.id}"
    return taken.document


@router.get("/feeds/{feed_id}/documents", response_model=PageOut[DocumentOut])
async def list_documents(
    central: TheCentral, feed_id: Id, limit: Limit = 50, after: After = None
) -> Page[StoredDocument]:
    """The feed's documents, the newest first."""
    return document_cursors.write(
        await central.market.documents(feed_id, after=document_cursors.read(after), limit=limit)
    )


@router.get("/feeds/{feed_id}/prices", response_model=PricesOut)
async def list_prices(
    central: TheCentral,
    feed_id: Id,
    start: Start,
    end: End,
    known_at: Annotated[Instant | None, Query(description="As they were known then")] = None,
) -> PricesOut:
    """Which price holds when."""
    check_look(start, end)
    series = await central.market.series(feed_id, start, end, known_at=known_at)
    items = [
        PriceOut(
            start=price.start,
            end=price.end,
            price_per_mwh=f"{price.per_mwh:f}",
            document_id=price.document_id,
            revision=price.revision,
        )
        for price in series.prices
    ]
    return PricesOut(currency=series.currency.code, items=items)


@router.get("/feeds/{feed_id}/gaps", response_model=GapsOut)
async def list_gaps(central: TheCentral, feed_id: Id, start: Start, end: End) -> GapsOut:
    """Where the feed has no price. Nothing is ever put there but a document."""
    check_look(start, end)
    gaps = await central.market.gaps(feed_id, start, end)
    return GapsOut(items=[GapOut(start=gap.start, end=gap.end) for gap in gaps])


@router.get("/documents/{document_id}", response_model=DocumentOut)
async def get_document(central: TheCentral, document_id: Id) -> StoredDocument:
    """One document."""
    return await central.market.document(document_id)


@router.get("/documents/{document_id}/raw", response_class=Response, responses=_RAW)
async def get_raw(central: TheCentral, document_id: Id) -> Response:
    """The document's bytes as they came."""
    return Response(await central.market.raw(document_id), media_type="application/octet-stream")


def _source(given: FolderIn | UrlIn | None) -> dict[str, Any] | None:
    return None if given is None else given.model_dump(exclude_none=True)


def _feed(feed: Feed) -> FeedOut:
    return FeedOut(
        id=feed.id,
        name=feed.name,
        currency=feed.currency.code,
        area=feed.area,
        sequence=feed.sequence,
        minutes=feed.minutes,
        source=None if feed.source is None else dict(feed.source),
        created_at=feed.created_at,
        checked_at=feed.checked_at,
        fault=feed.fault,
        fault_at=feed.fault_at,
    )
