"""Prices of one feed in order of time: which holds at an instant, and where there is none."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from heapq import heappop, heappush
from itertools import pairwise

from csms.errors import Conflict
from csms.money import Currency


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketPrice:
    """Major units of the currency per MWh from `start` to before `end` (aware UTC); may be negative.

    `document_id` and `revision` name the document that said so.
    """

    start: datetime
    end: datetime
    per_mwh: Decimal
    document_id: str = ""
    revision: int = 1

    @property
    def per_kwh(self) -> Decimal:
        return self.per_mwh.scaleb(-3)


@dataclass(frozen=True, slots=True)
class Gap:
    """An interval of a feed without a price."""

    feed_id: str
    start: datetime
    end: datetime

    def __str__(self) -> str:
        return f"{self.feed_id} from {written(self.start)} to {written(self.end)}"


class PricesMissing(Conflict):
    """What was asked for needs prices that are not there; `gaps` says which."""

    def __init__(self, gaps: Sequence[Gap]) -> None:
        self.gaps = tuple(gaps)
        named = ", ".join(str(gap) for gap in self.gaps[:3])
        more = f" and {len(self.gaps) - 3} more" if len(self.gaps) > 3 else ""
        super().__init__(f"waiting for the market's prices of {named}{more}")


def joined(gaps: Iterable[Gap]) -> tuple[Gap, ...]:
    """Gaps in order, those of one feed that touch put together."""
    found: list[Gap] = []
    for gap in sorted(gaps, key=lambda each: (each.feed_id, each.start)):
        if found and found[-1].feed_id == gap.feed_id and gap.start <= found[-1].end:
            found[-1] = Gap(gap.feed_id, found[-1].start, max(found[-1].end, gap.end))
        else:
            found.append(gap)
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceSeries:
    """Prices that do not overlap, in order; made by `lay` where documents do."""

    feed_id: str
    currency: Currency
    prices: tuple[MarketPrice, ...]

    def at(self, instant: datetime) -> MarketPrice | None:
        """The price that holds then; None: there is none."""
        place = bisect_right(self.prices, instant, key=lambda price: price.start)
        if place and instant < self.prices[place - 1].end:
            return self.prices[place - 1]
        return None

    def edges(self, start: datetime, end: datetime) -> tuple[datetime, ...]:
        """Instants strictly between at which the price may switch, in order."""
        marks = {mark for price in self._over(start, end) for mark in (price.start, price.end)}
        return tuple(sorted(mark for mark in marks if start < mark < end))

    def gaps(self, start: datetime, end: datetime) -> tuple[Gap, ...]:
        """Where from `start` to `end` there is no price."""
        found, at = [], start
        for price in self._over(start, end):
            if price.start > at:
                found.append(Gap(self.feed_id, at, price.start))
            at = max(at, price.end)
        if at < end:
            found.append(Gap(self.feed_id, at, end))
        return tuple(found)

    def _over(self, start: datetime, end: datetime) -> Sequence[MarketPrice]:
        first = max(0, bisect_right(self.prices, start, key=lambda price: price.start) - 1)
        last = bisect_right(self.prices, end, key=lambda price: price.start)
        return [price for price in self.prices[first:last] if price.start < end and price.end > start]


Market = Mapping[str, PriceSeries]
"""What is known of the markets, by the feed's id."""

NO_MARKET: Market = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a document stands to others: `created_at` as it says itself, else when it came in."""

    document_id: str
    mrid: str | None
    revision: int
    created_at: datetime
    received_at: datetime

    @property
    def rank(self) -> tuple[datetime, datetime, str]:
        return self.created_at, self.received_at, self.document_id


def lay(
    feed_id: str, currency: Currency, told: Iterable[tuple[Standing, Sequence[MarketPrice]]]
) -> PriceSeries:
    """One series out of what all documents told, however their intervals overlap.

    Of one mRID only the highest revision counts: it replaces the others whole. Where several
    documents tell a price, the one that was made last does.
    """
    told = list(told)
    newest: dict[str, int] = {}
    for standing, _ in told:
        if standing.mrid is not None:
            newest[standing.mrid] = max(standing.revision, newest.get(standing.mrid, 0))
    counting = [
        (standing, prices)
        for standing, prices in told
        if standing.mrid is None or standing.revision == newest[standing.mrid]
    ]
    counting.sort(key=lambda each: each[0].rank, reverse=True)
    return PriceSeries(feed_id=feed_id, currency=currency, prices=_laid([prices for _, prices in counting]))


def _laid(best_first: Sequence[Sequence[MarketPrice]]) -> tuple[MarketPrice, ...]:
    """At every instant the price of the first list that has one."""
    waiting = sorted(
        ((rank, price) for rank, prices in enumerate(best_first) for price in prices),
        key=lambda each: each[1].start,
    )
    edges = sorted({mark for _, price in waiting for mark in (price.start, price.end)})
    running: list[tuple[int, int, MarketPrice]] = []
    found: list[MarketPrice] = []
    holding: MarketPrice | None = None
    taken = 0
    for low, high in pairwise(edges):
        while taken < len(waiting) and waiting[taken][1].start <= low:
            rank, price = waiting[taken]
            heappush(running, (rank, taken, price))
            taken += 1
        while running and running[0][2].end <= low:
            heappop(running)
        best = running[0][2] if running else None
        if best is not None and best is holding:
            found[-1] = replace(found[-1], end=high)
        elif best is not None:
            found.append(replace(best, start=low, end=high))
        holding = best
    return tuple(found)


def written(instant: datetime) -> str:
    """In UTC, e.g. 2026-01-14T23:00:00Z."""
    return instant.isoformat().replace("+00:00", "Z")
