"""Pricing: a tariff and a curve in, lines with their reasons and totals out.

At every instant and per dimension the first element counts that has a component of the dimension
and whose restrictions hold; none costs nothing. A line is an unbroken use of one component. The
rounding to step_size comes once, at the end: up to a multiple of the step of the component used
last and at its price; of TIME and PARKING_TIME only the one that ended the session is rounded.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from csms.money import Currency, half_up
from csms.tariffs.component import Dimension, Kind, PriceComponent, round_up
from csms.tariffs.components import COMPONENTS, KINDS
from csms.tariffs.conditions import ReservationRestriction, describe, holds
from csms.tariffs.curve import Curve, Segment, after
from csms.tariffs.cutting import Piece, cut
from csms.tariffs.tariff import Element, Tariff
from csms.tariffs.tax import Cost, Totals, split_cost, total


class Phase(StrEnum):
    SESSION = "SESSION"
    RESERVATION = "RESERVATION"


@dataclass(frozen=True, slots=True)
class Stretch:
    """`used` of a line (in its unit, before rounding), evenly from `start` to `end` (aware UTC)."""

    start: datetime
    end: datetime
    used: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One use of one price component. `quantity` in `unit` is what is billed, `used` what was measured.

    `start` is the first instant of use (aware UTC), `element` the place in the tariff's list. The
    `stretches` sum to `used`.
    """

    dimension: Dimension
    phase: Phase
    start: datetime
    element: int
    quantity: Fraction
    used: Fraction
    unit: str
    price: Decimal
    price_unit: str
    vat_percent: Decimal | None
    cost: Cost
    reason: str
    stretches: tuple[Stretch, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """The bill of one session from `start` to `end` (aware UTC): its lines and the rounded totals."""

    start: datetime
    end: datetime
    currency: Currency
    lines: tuple[Line, ...]
    totals: Totals


@dataclass(slots=True)
class _Use:
    """A run of pieces under one component, in base units (Wh, s, 1)."""

    phase: Phase
    kind: Kind
    element: int
    component: PriceComponent
    start: datetime
    stretches: list[Stretch]
    rounding: Fraction = Fraction(0)

    @property
    def used(self) -> Fraction:
        return sum((stretch.used for stretch in self.stretches), Fraction(0))


def price(tariff: Tariff, curve: Curve) -> Priced:
    """Price the curve. The tariff is taken as valid: the one of the session's start prices all of it."""
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
    uses = [
        *_phase(Phase.RESERVATION, curve.reservation, curve.start, curve, for_reservation),
        *_phase(Phase.SESSION, curve.session, curve.session_start, curve, for_session),
    ]
    lines = sorted((_line(use, tariff) for use in uses), key=_place)
    costs = ((line.vat_percent, line.cost) for line in lines)
    totals = total(costs, tariff, apply_min=bool(curve.session))
    whole_s = sum((segment.duration_s for segment in curve.segments), Fraction(0))
    return Priced(
        start=curve.start,
        end=after(curve.start, whole_s),
        currency=tariff.currency,
        lines=tuple(lines),
        totals=totals,
    )


def _phase(
    phase: Phase,
    segments: Sequence[Segment],
    start: datetime,
    curve: Curve,
    elements: Sequence[tuple[int, Element]],
) -> list[_Use]:
    """The uses of one phase, rounded to their steps."""
    uses: list[_Use] = []
    running: dict[Dimension, _Use] = {}
    restrictions = [element.restrictions for _, element in elements]
    for piece in cut(segments, start, curve.zone, restrictions):
        for kind in COMPONENTS:
            if kind.dimension is Dimension.FLAT and kind.dimension in running:
                continue  # once
            used = kind.used(piece.segment)
            if used == 0:
                continue  # nothing used: neither the end of a run nor the step that counts
            choice = None if used is None else _choose(kind.dimension, elements, piece)
            if used is None or choice is None:
                running.pop(kind.dimension, None)
                continue
            element, component = choice
            run = running.get(kind.dimension)
            stretch = Stretch(piece.at, after(piece.at, piece.segment.duration_s), used)
            if run is not None and run.element == element:
                run.stretches.append(stretch)
                continue
            run = _Use(phase, kind, element, component, piece.at, [stretch])
            running[kind.dimension] = run
            uses.append(run)
    _round_to_steps(uses)
    return uses


def _choose(
    dimension: Dimension, elements: Sequence[tuple[int, Element]], piece: Piece
) -> tuple[int, PriceComponent] | None:
    for i, element in elements:
        component = element.component(dimension)
        if component is not None and holds(element.restrictions, piece.moment):
            return i, component
    return None


def _round_to_steps(uses: Sequence[_Use]) -> None:
    last = {use.kind.rounds_with: use for use in uses}
    for word, use in last.items():
        if word is not None:
            used = sum((u.used for u in uses if u.kind is use.kind), Fraction(0))
            use.rounding = round_up(used, use.component.step_size) - used


def _line(use: _Use, tariff: Tariff) -> Line:
    kind, component = use.kind, use.component
    billed = use.used + use.rounding
    cost = billed / kind.base_per_price * Fraction(component.price)
    return Line(
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
        stretches=tuple(replace(s, used=s.used / kind.base_per_unit) for s in use.stretches),
    )


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
    rank = list(KINDS).index(line.dimension)
    return line.dimension is not Dimension.FLAT, line.start, rank


def decimal_text(value: Fraction, places: int = 6) -> str:
    """The value in plain decimals: exact where they end within `places`, else half up to so many."""
    scaled = half_up(value * 10**places)
    text = f"{Decimal(scaled).scaleb(-places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
