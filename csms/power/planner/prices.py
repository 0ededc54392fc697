"""What a kWh costs in each slot, from whoever knows prices.

Prices come as slices of time. A slot costs their mean over it. An hour of which no price is known counts
as the dearest known one, so that no car waits for a price that nobody has told; with no price at all every
hour costs the same and nobody waits.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

from csms.errors import InvalidInput
from csms.money import Currency
from csms.power.planner.slots import Slots

MOST_SLICES = 1000
LARGEST_PRICE = Decimal(1_000_000)
MICRO = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class PriceSlice:
    """Major units of the currency per kWh from `start` to before `end` (aware); may be negative."""

    start: datetime
    end: datetime
    per_kwh: Decimal


@dataclass(frozen=True, slots=True)
class Prices:
    """Slices in order of time that do not overlap. `source`: who told them, in words."""

    currency: str
    slices: tuple[PriceSlice, ...]
    source: str = ""


PriceSource = Callable[[str, datetime, datetime], Awaitable[Prices | None]]
"""Prices of a site over an interval; None: this source knows none."""


@dataclass(frozen=True, slots=True)
class SlotPrices:
    """Per kWh in each slot. `known_until`: to where prices are known without a gap; None: not at all."""

    currency: str | None
    per_kwh: tuple[Decimal, ...]
    known_until: datetime | None
    source: str = ""


def check_prices(currency: str, slices: Sequence[PriceSlice]) -> tuple[PriceSlice, ...]:
    """Slices in order, each ending where the next begins. InvalidInput names the field as it was given."""
    Currency(currency)
    if not slices:
        raise InvalidInput("prices", "give at least one price")
    if len(slices) > MOST_SLICES:
        raise InvalidInput("prices", f"has {len(slices)} prices; give at most {MOST_SLICES}")
    for i, each in enumerate(slices):
        if each.end <= each.start:
            raise InvalidInput(f"prices[{i}].end", "must be after start")
        if not each.per_kwh.is_finite() or abs(each.per_kwh) > LARGEST_PRICE:
            raise InvalidInput(f"prices[{i}].per_kwh", f"must be a number up to {LARGEST_PRICE}")
        if each.per_kwh != each.per_kwh.quantize(MICRO):
            raise InvalidInput(f"prices[{i}].per_kwh", "has more than six decimals; round it")
    order = sorted(range(len(slices)), key=lambda i: slices[i].start)
    for before, after in pairwise(order):
        end, start = slices[before].end, slices[after].start
        if start != end:
            fault = "overlaps" if start < end else "leaves a gap after"
            raise InvalidInput(
                f"prices[{after}].start",
                f"{fault} prices[{before}]; begin where that ends, at {end.isoformat()}",
            )
    return tuple(slices[i] for i in order)


def per_slot(slots: Slots, prices: Prices | None) -> SlotPrices:
    """What each slot costs."""
    if prices is None or not prices.slices:
        return SlotPrices(None, (Decimal(0),) * len(slots), None)
    means = [_mean(prices.slices, begin, end) for begin, end in pairwise(slots.edges)]
    known = [mean for mean in means if mean is not None]
    if not known:
        return SlotPrices(prices.currency, (Decimal(0),) * len(slots), None, prices.source)
    count = next((i for i, mean in enumerate(means) if mean is None), len(means))
    return SlotPrices(
        prices.currency,
        tuple(max(known) if mean is None else mean for mean in means),
        slots.edges[count] if count else None,
        prices.source,
    )


def _mean(slices: Sequence[PriceSlice], begin: datetime, end: datetime) -> Decimal | None:
    """The mean price over an interval; None where a part of it has none."""
    total, covered = Decimal(0), 0.0
    for each in slices:
        seconds = (min(end, each.end) - max(begin, each.start)).total_seconds()
        if seconds > 0:
            total += each.per_kwh * Decimal(repr(seconds))
            covered += seconds
    length = (end - begin).total_seconds()
    return total / Decimal(repr(length)) if abs(covered - length) < 1e-3 else None
