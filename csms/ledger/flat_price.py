"""Prices that need no walk over the tariff: energy at one price or at the market's, and a fee per session.

Most tariffs of a garage are such, and a month has many sessions: this is their price in whole numbers,
equal to what `csms.tariffs.pricing` makes of it, which the tests hold it to. Any other tariff is None here.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from csms.tariffs.component import Dimension
from csms.tariffs.components.cap import Cap, Per
from csms.tariffs.components.discount import Discount
from csms.tariffs.components.spot import Spot
from csms.tariffs.conditions import NONE
from csms.tariffs.market.series import PriceSeries
from csms.tariffs.tariff import Tariff, TaxIncluded

_SCALE = 10**15


@dataclass(frozen=True, slots=True)
class Curve:
    """Prices by the second: `starts`, `ends` in s since 1970, `prices` in 1e-15 major units per Wh."""

    starts: Sequence[int]
    ends: Sequence[int]
    prices: Sequence[int]

    def cost(self, points: Sequence[tuple[int, int]]) -> int | None:
        """What the energy of rising (instant, Wh) comes to, in 1e-15; None where a price is missing.

        Where the price changes between two points the energy there is taken in whole Wh, halves up.
        """
        starts, ends, prices = self.starts, self.ends, self.prices
        whole = 0
        count = len(starts)
        i = bisect_right(starts, points[0][0]) - 1
        for (low, before), (high, after) in pairwise(points):
            gained = after - before
            if not gained:
                continue
            while i + 1 < count and starts[i + 1] <= low:
                i += 1
            if i < 0 or low >= ends[i]:
                return None
            if high <= ends[i]:
                whole += gained * prices[i]
                continue
            at_wh, j, length = 0, i, high - low
            while j < count and starts[j] < high:
                if starts[j] > low and starts[j] != ends[j - 1]:
                    return None
                upto = min(high, ends[j])
                upto_wh = (2 * gained * (upto - low) + length) // (2 * length)
                whole += (upto_wh - at_wh) * prices[j]
                at_wh, j = upto_wh, j + 1
            if at_wh != gained:
                return None
        return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPrice:
    """In 1e-15 major units: `per_wh`, where the price does not follow a market, and `fee` per session.
    VAT is `vat` / 10,000 of the net; None: the tariff names none."""

    vat: int | None
    tax_included: bool
    known: bool
    exponent: int
    fee: int
    per_wh: int
    market: Curve | None = None

    def minor(self, points: Sequence[tuple[int, int]]) -> tuple[int, int | None] | None:
        """(without, with VAT) in minor units of a session; None: a price is missing. The second is None
        where the tariff does not tell the VAT."""
        if self.market is None:
            energy: int | None = self.per_wh * (points[-1][1] if points else 0)
        else:
            energy = self.market.cost(points) if points else 0
        if energy is None:
            return None
        exact = (energy + self.fee) * 10**self.exponent
        if self.vat is None:
            known = self.known or not (energy or self.fee)
            amount = _nearest(exact, _SCALE)
            return amount, amount if known else None
        if self.tax_included:
            return _nearest(exact * 10_000, _SCALE * (10_000 + self.vat)), _nearest(exact, _SCALE)
        return _nearest(exact, _SCALE), _nearest(exact * (10_000 + self.vat), _SCALE * 10_000)


def _nearest(numerator: int, denominator: int) -> int:
    """The quotient as a whole number, halves away from zero (`csms.money.half_up` without a fraction)."""
    whole = (2 * abs(numerator) + denominator) // (2 * denominator)
    return whole if numerator >= 0 else -whole


def flat_price(tariff: Tariff, market: PriceSeries | None) -> FlatPrice | None:
    """The tariff as a flat price; None when it is more than that."""
    if len(tariff.elements) != 1 or tariff.min_price or tariff.max_price:
        return None
    element = tariff.elements[0]
    if element.restrictions != NONE:
        return None
    if any(isinstance(o, Discount) or (isinstance(o, Cap) and o.per is Per.SESSION) for o in tariff.own):
        return None
    energy, flat = element.component(Dimension.ENERGY), element.component(Dimension.FLAT)
    rates = {component.vat_percent for component in element.components}
    if energy is None or len(rates) != 1 or len(element.components) != 1 + (flat is not None):
        return None
    if energy.step_size > 1:
        return None
    spot = tariff.spot_of(0)
    if spot is not None and market is None:
        return None
    curve = None
    if spot is not None and market is not None:
        curve = _curve(spot, market)
        if curve is None:
            return None
    percent = energy.vat_percent
    vat = None if percent is None else Fraction(percent) * 100
    fee, per_wh = Fraction(flat.price if flat else 0) * _SCALE, Fraction(energy.price) * _SCALE / 1000
    if any(each.denominator != 1 for each in (vat or Fraction(0), fee, per_wh)):
        return None
    return FlatPrice(
        vat=None if vat is None else vat.numerator,
        tax_included=tariff.tax_included is TaxIncluded.YES,
        known=tariff.tax_included is not TaxIncluded.NO,
        exponent=tariff.currency.exponent,
        fee=fee.numerator,
        per_wh=per_wh.numerator,
        market=curve,
    )


def _curve(spot: Spot, market: PriceSeries) -> Curve | None:
    """None where prices have more digits than whole numbers of 1e-15 per Wh hold."""
    on_top = Fraction(spot.markup_per_kwh) + sum((Fraction(fee.per_kwh) for fee in spot.fees), Fraction(0))
    prices = []
    for each in market.prices:
        scaled = (spot.price_per_kwh(each.per_mwh) + on_top) * _SCALE / 1000
        if scaled.denominator != 1:
            return None
        prices.append(scaled.numerator)
    return Curve(
        [int(each.start.timestamp()) for each in market.prices],
        [int(each.end.timestamp()) for each in market.prices],
        prices,
    )
