"""Energy at the market's price as lines: one per price interval, one per mark-up and per fee.

A negative market price is a credit: a negative quantity at the price without its sign.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from csms.tariffs.bill import Followed, Line, PassedOver, Phase, Stretch, decimal_text
from csms.tariffs.component import Dimension
from csms.tariffs.components.spot import Spot
from csms.tariffs.market.series import MarketPrice, written
from csms.tariffs.tariff import Tariff
from csms.tariffs.tax import split_cost


@dataclass(frozen=True, slots=True)
class SpotUse:
    """Energy of one element within one price interval; `stretches` in kWh."""

    spot: Spot
    element: int
    vat_percent: Decimal | None
    price: MarketPrice
    stretches: tuple[Stretch, ...]
    reason: str
    passed_over: tuple[PassedOver, ...] = ()

    @property
    def start(self) -> datetime:
        return self.stretches[0].start

    @property
    def kwh(self) -> Fraction:
        return sum((stretch.used for stretch in self.stretches), Fraction(0))


def spot_lines(uses: Sequence[SpotUse], tariff: Tariff) -> list[Line]:
    """The lines of what followed the market."""
    lines = [_interval(use, tariff) for use in uses]
    together: dict[tuple[int, int], list[SpotUse]] = {}
    for use in uses:
        together.setdefault((tariff.spots.index(use.spot), use.element), []).append(use)
    for same in together.values():
        spot = same[0].spot
        if spot.markup_per_kwh:
            lines.append(_on_all("SPOT_MARKUP", "", spot.markup_per_kwh, same, tariff))
        lines += [_on_all("SPOT_FEE", fee.name, fee.per_kwh, same, tariff) for fee in spot.fees]
    return lines


def _interval(use: SpotUse, tariff: Tariff) -> Line:
    told = use.spot.price_per_kwh(use.price.per_mwh)
    sign = -1 if told < 0 else 1
    price, market = abs(told), use.price
    reason = (
        f"{use.reason}; the market's price from {written(market.start)} to {written(market.end)} is "
        f"{market.per_mwh:f} {tariff.currency} per MWh"
    )
    if market.document_id:
        reason += f" by document {market.document_id}, revision {market.revision}"
    if use.spot.factor != 1:
        reason += f", times {use.spot.factor:f}"
    if sign < 0:
        reason += "; below zero, so it is credited"
    return Line(
        word="SPOT",
        dimension=Dimension.ENERGY,
        phase=Phase.SESSION,
        start=use.start,
        element=use.element,
        quantity=sign * use.kwh,
        used=sign * use.kwh,
        unit="kWh",
        price=price,
        price_unit="kWh",
        vat_percent=use.vat_percent,
        cost=split_cost(use.kwh * told, use.vat_percent, tariff),
        reason=reason,
        stretches=tuple(Stretch(s.start, s.end, sign * s.used) for s in use.stretches),
        passed_over=use.passed_over,
        followed=Followed(use.spot.feed_id, market),
    )


def _on_all(word: str, name: str, price: Decimal, uses: Sequence[SpotUse], tariff: Tariff) -> Line:
    kwh = sum((use.kwh for use in uses), Fraction(0))
    first = uses[0]
    what = f"fee {name!r}" if name else "the mark-up"
    return Line(
        word=word,
        dimension=Dimension.ENERGY,
        phase=Phase.SESSION,
        start=first.start,
        element=first.element,
        quantity=kwh,
        used=kwh,
        unit="kWh",
        price=price,
        price_unit="kWh",
        vat_percent=first.vat_percent,
        cost=split_cost(kwh * Fraction(price), first.vat_percent, tariff),
        reason=f"{what} on the {decimal_text(kwh)} kWh that follow the market by elements[{first.element}]",
        stretches=tuple(stretch for use in uses for stretch in use.stretches),
        name=name,
    )
