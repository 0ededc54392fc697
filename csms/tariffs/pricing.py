"""Pricing: a tariff and a curve in, lines with their reasons and totals out.

At every instant and per dimension the first element counts that has a component of the dimension
and whose restrictions hold; none costs nothing. A line is an unbroken use of one component, and of one
price of the market where energy follows it. The rounding to step_size comes once, at the end: up to a
multiple of the step of the component used last and at its price; of TIME and PARKING_TIME only the one
that ended the session is rounded. Then what is taken off (`reductions`), then min_price and max_price.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from csms.errors import InvalidInput
from csms.tariffs.bill import Line, PassedOver, Phase, Priced, Stretch, decimal_text
from csms.tariffs.component import GUEST, Dimension, Kind, Payer, PriceComponent, round_up
from csms.tariffs.components import COMPONENTS, KINDS
from csms.tariffs.components.spot import Spot
from csms.tariffs.conditions import ReservationRestriction, describe, holds, unmet
from csms.tariffs.curve import Curve, Segment, after
from csms.tariffs.cutting import Piece, cut
from csms.tariffs.market.series import NO_MARKET, Gap, Market, MarketPrice, PricesMissing, joined
from csms.tariffs.reductions import reductions
from csms.tariffs.spot_lines import SpotUse, spot_lines
from csms.tariffs.tariff import Element, Tariff
from csms.tariffs.tax import split_cost, total

Elements = Sequence[tuple[int, Element]]


@dataclass(slots=True)
class _Use:
    """A run of pieces under one component, in base units (Wh, s, 1)."""

    phase: Phase
    kind: Kind
    element: int
    component: PriceComponent
    passed_over: tuple[PassedOver, ...]
    start: datetime
    stretches: list[Stretch]
    spot: Spot | None = None
    market: MarketPrice | None = None
    rounding: Fraction = Fraction(0)

    @property
    def used(self) -> Fraction:
        return sum((stretch.used for stretch in self.stretches), Fraction(0))


def price(tariff: Tariff, curve: Curve, market: Market = NO_MARKET, payer: Payer = GUEST) -> Priced:
    """Price the curve. The tariff is taken as valid: the one of the session's start prices all of it.

    Raises PricesMissing when energy follows a market whose price is not in `market` for all of it;
    InvalidInput when the market's currency is another than the tariff's.
    """
    kinds_of_reservation = (
        (ReservationRestriction.RESERVATION_EXPIRES, ReservationRestriction.RESERVATION)
        if curve.expired
        else (ReservationRestriction.RESERVATION,)
    )
    numbered = list(enumerate(tariff.elements))
    for_reservation = [
        (i, element)
        for kind in kinds_of_reservation
        for i, element in numbered
        if element.restrictions.reservation is kind
    ]
    for_session = [(i, element) for i, element in numbered if element.restrictions.reservation is None]
    end = after(curve.start, sum((segment.duration_s for segment in curve.segments), Fraction(0)))
    for spot in tariff.spots:
        series = market.get(spot.feed_id)
        if series is not None and series.currency != tariff.currency:
            raise InvalidInput(
                "currency", f"is {tariff.currency}, but feed {spot.feed_id} is in {series.currency}"
            )
    walk = _Walk(tariff, curve, market)
    walk.go(Phase.RESERVATION, curve.reservation, curve.start, for_reservation, end)
    walk.go(Phase.SESSION, curve.session, curve.session_start, for_session, end)
    if walk.gaps:
        raise PricesMissing(joined(walk.gaps))
    lines = [_line(use, tariff) for use in walk.uses if use.market is None]
    lines += spot_lines([_followed(use, tariff) for use in walk.uses if use.market is not None], tariff)
    lines.sort(key=_place)
    lines += reductions(lines, tariff, payer)
    costs = ((line.vat_percent, line.cost) for line in lines)
    totals = total(costs, tariff, apply_min=bool(curve.session))
    return Priced(start=curve.start, end=end, currency=tariff.currency, lines=tuple(lines), totals=totals)


class _Walk:
    """Goes over the pieces and notes which component is used from when to when, and what price is missing."""

    def __init__(self, tariff: Tariff, curve: Curve, market: Market) -> None:
        self._tariff = tariff
        self._zone = curve.zone
        self._market = market
        self.uses: list[_Use] = []
        self.gaps: list[Gap] = []

    def go(
        self, phase: Phase, segments: Sequence[Segment], start: datetime, elements: Elements, end: datetime
    ) -> None:
        """Add the uses of one phase, rounded to their steps."""
        uses: list[_Use] = []
        running: dict[Dimension, _Use] = {}
        restrictions = [element.restrictions for _, element in elements]
        edges = sorted(
            {
                edge
                for spot in self._tariff.spots
                if (series := self._market.get(spot.feed_id)) is not None
                for edge in series.edges(start, end)
            }
        )
        for piece in cut(segments, start, self._zone, restrictions, edges):
            for kind in COMPONENTS:
                if kind.dimension is Dimension.FLAT and kind.dimension in running:
                    continue  # once
                used = kind.used(piece.segment)
                if used == 0:
                    continue  # nothing used: neither the end of a run nor the step that counts
                use = None if used is None else self._use(phase, kind, elements, piece, used)
                if use is None:
                    running.pop(kind.dimension, None)
                    continue
                run = running.get(kind.dimension)
                if run is not None and run.element == use.element and run.market == use.market:
                    run.stretches += use.stretches
                    continue
                running[kind.dimension] = use
                uses.append(use)
        _round_to_steps(uses)
        self.uses += uses

    def _use(self, phase: Phase, kind: Kind, elements: Elements, piece: Piece, used: Fraction) -> _Use | None:
        passed_over = []
        for i, element in elements:
            component = element.component(kind.dimension)
            if component is None:
                continue
            if not holds(element.restrictions, piece.moment):
                passed_over.append(PassedOver(i, unmet(element.restrictions, piece.moment)))
                continue
            # A fee is due at once.
            lasts_s = Fraction(0) if kind.rounds_with is None else piece.segment.duration_s
            stretch = Stretch(piece.at, after(piece.at, lasts_s), used)
            use = _Use(phase, kind, i, component, tuple(passed_over), piece.at, [stretch])
            spot = self._tariff.spot_of(i) if kind.dimension is Dimension.ENERGY else None
            if spot is not None:
                use.spot, use.market = spot, self._price(spot, stretch)
                if use.market is None:
                    return None
            return use
        return None

    def _price(self, spot: Spot, stretch: Stretch) -> MarketPrice | None:
        series = self._market.get(spot.feed_id)
        found = None if series is None else series.at(stretch.start)
        if found is None:
            self.gaps.append(Gap(spot.feed_id, stretch.start, stretch.end))
        return found


def _round_to_steps(uses: Sequence[_Use]) -> None:
    last = {use.kind.rounds_with: use for use in uses}
    for word, use in last.items():
        if word is not None and use.market is None:
            used = sum((u.used for u in uses if u.kind is use.kind), Fraction(0))
            use.rounding = round_up(used, use.component.step_size) - used


def _line(use: _Use, tariff: Tariff) -> Line:
    kind, component = use.kind, use.component
    billed = use.used + use.rounding
    cost = billed / kind.base_per_price * Fraction(component.price)
    reserved_time = use.phase is Phase.RESERVATION and kind.dimension is Dimension.TIME
    return Line(
        word="RESERVATION_TIME" if reserved_time else kind.dimension.value,
        dimension=kind.dimension,
        phase=use.phase,
        start=use.start,
        element=use.element,
        quantity=billed / kind.base_per_unit,
        used=use.used / kind.base_per_unit,
        unit=kind.unit,
        price=component.price,
        price_unit=kind.price_unit,
        vat_percent=component.vat_percent,
        cost=split_cost(cost, component.vat_percent, tariff),
        reason=_reason(use, tariff),
        stretches=_in_units(use),
        passed_over=use.passed_over,
    )


def _followed(use: _Use, tariff: Tariff) -> SpotUse:
    assert use.spot is not None
    assert use.market is not None
    return SpotUse(
        spot=use.spot,
        element=use.element,
        vat_percent=use.component.vat_percent,
        price=use.market,
        stretches=_in_units(use),
        reason=_reason(use, tariff),
        passed_over=use.passed_over,
    )


def _in_units(use: _Use) -> tuple[Stretch, ...]:
    return tuple(Stretch(s.start, s.end, s.used / use.kind.base_per_unit) for s in use.stretches)


def _reason(use: _Use, tariff: Tariff) -> str:
    conditions = describe(tariff.elements[use.element].restrictions)
    text = f"elements[{use.element}] is the first with {use.kind.dimension} that applies"
    text += f": {conditions}" if conditions else ", without conditions"
    if use.rounding:
        added = decimal_text(use.rounding / use.kind.base_per_unit)
        text += f"; {added} {use.kind.unit} added to bill whole blocks of {use.component.step_size} "
        text += "Wh" if use.kind.unit == "kWh" else "s"
    return text


def _place(line: Line) -> tuple[bool, datetime, int]:
    """Fees first, then as things happened."""
    rank = len(KINDS) if line.dimension is None else list(KINDS).index(line.dimension)
    return line.dimension is not Dimension.FLAT, line.start, rank
