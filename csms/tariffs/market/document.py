"""What a price document says, whatever its format, and what any of them must keep to."""

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.market.series import MarketPrice, written

LARGEST_BYTES = 4_000_000
"""A year of quarter hours has 35,040 lines of about 45 bytes."""
LARGEST_PRICE = 1_000_000
"""Per MWh; harmonised limits of European markets are 4,000 to 5,000 EUR (from memory)."""
MOST_DECIMALS = 6
LONGEST_NUMBER = 24
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,6})?")
MOST_INTERVALS = 40_000
"""A year has 35,136 quarter hours at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceDocument:
    """Prices in order, touching each other: from `start` to `end` there is one at every instant.

    `mrid` and `revision` name the document and its correction; None: it has no name of its own.
    """

    kind: str
    currency: Currency
    prices: tuple[MarketPrice, ...]
    mrid: str | None = None
    revision: int = 1
    created_at: datetime | None = None
    area: str | None = None

    @property
    def start(self) -> datetime:
        return self.prices[0].start

    @property
    def end(self) -> datetime:
        return self.prices[-1].end


def in_one_piece(prices: Sequence[MarketPrice], place: str) -> tuple[MarketPrice, ...]:
    """The prices in order; InvalidInput at `place` when they overlap, leave a gap, or are none."""
    ordered = sorted(prices, key=lambda price: price.start)
    if not ordered:
        raise InvalidInput(place, "holds no price")
    for before, after in itertools.pairwise(ordered):
        if after.start < before.end:
            raise InvalidInput(place, f"two prices for {written(after.start)}; which one holds is not said")
        if after.start > before.end:
            raise InvalidInput(
                place,
                f"no price from {written(before.end)} to {written(after.start)}; "
                "a document with a gap is not taken, ask for it again",
            )
    return tuple(ordered)


def price_of(text: str, place: str, *, per_kwh: bool = False) -> Decimal:
    """A price per MWh, exact."""
    text = text.strip()
    if not _NUMBER.fullmatch(text):
        raise InvalidInput(place, f"must be a number, is {text[:40]!r}")
    told = Decimal(text) if len(text) <= LONGEST_NUMBER else None
    if told is None or told.adjusted() > LONGEST_NUMBER:
        raise InvalidInput(place, f"{text[:40]} is no price: it has too many digits")
    price = told.scaleb(3) if per_kwh else told
    exponent = price.normalize().as_tuple().exponent
    if abs(price) > LARGEST_PRICE:
        raise InvalidInput(place, f"{text} is no price: more than {LARGEST_PRICE} per MWh")
    if not isinstance(exponent, int) or exponent < -MOST_DECIMALS:
        raise InvalidInput(place, f"{text} has more than {MOST_DECIMALS} decimals per MWh")
    return price
