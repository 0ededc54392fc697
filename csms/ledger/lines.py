"""Lines of a statement out of charges, and VAT once per document and rate (EN 16931).

A line tells quantity and price so that quantity x price, rounded half up, is its net: BR-27 wants no
negative price, so a credit has a negative quantity.
"""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from csms.ledger.charges import Charge
from csms.ledger.inputs import Correction, RunInputs
from csms.ledger.statement import Line, LineKind, Unit, VatCategory, VatTotal
from csms.money import Currency, Money, half_up

PLACES = 8
MOST_PLACES = 16
_OF_ENERGY = frozenset({LineKind.SESSIONS, LineKind.NEGATIVE_ENERGY, LineKind.ENERGY})
_BY_MONTH = frozenset({LineKind.MONTHLY_FEE})


def line_of(charge: Charge, number: int, registered: bool, inputs: RunInputs) -> Line:
    """The line of a charge."""
    net = Money(charge.net_minor, Currency(inputs.currency))
    about = charge.about
    unit, amount = Unit.ONE, Decimal(1)
    if about.kind in _OF_ENERGY and charge.energy_wh:
        unit, amount = Unit.KWH, Decimal(charge.energy_wh).scaleb(-3)
    elif charge.quantity is not None:
        unit = Unit.MONTH if about.kind in _BY_MONTH else Unit.ONE
        amount = charge.quantity
    quantity, price = quantity_and_price(net, amount)
    return Line(
        number=number,
        kind=about.kind,
        arguments=charge.arguments,
        quantity=quantity,
        unit=unit,
        unit_price=price,
        net_minor=net.minor,
        vat_category=category(about.percent, registered),
        vat_percent=about.percent,
        session_ids=charge.session_ids,
        period=inputs.period,
    )


def correction_line(correction: Correction, number: int, registered: bool, inputs: RunInputs) -> Line:
    """The line of a correction: one piece."""
    net = Money(correction.net_minor, Currency(inputs.currency))
    quantity, price = quantity_and_price(net, Decimal(1))
    return Line(
        number=number,
        kind=LineKind.CORRECTION,
        arguments={
            "period": correction.period,
            "of": correction.of.value,
            "name": correction.name,
            "reason": correction.reason,
        },
        quantity=quantity,
        unit=Unit.ONE,
        unit_price=price,
        net_minor=net.minor,
        vat_category=category(correction.percent, registered),
        vat_percent=correction.percent,
        period=correction.period,
    )


def quantity_and_price(net: Money, amount: Decimal) -> tuple[Decimal, Decimal]:
    """`amount` with the sign of `net`, and the shortest price of at least 2 and mostly at most 8 places
    that makes `net` of it."""
    exponent = net.currency.exponent
    exact = Fraction(abs(net.minor), 10**exponent) / Fraction(amount)
    places = exponent
    while True:
        price = Decimal(half_up(exact * 10**places)).scaleb(-places)
        if half_up(Fraction(price) * Fraction(amount) * 10**exponent) == abs(net.minor) and (
            places >= PLACES or Fraction(price) == exact
        ):
            break
        places += 1
        if places > MOST_PLACES:
            raise ValueError(f"no price makes {net} of {amount}")
    return (-amount if net.minor < 0 else amount), price


def category(percent: Decimal | None, registered: bool) -> VatCategory:
    """The VAT category of a rate."""
    if not registered:
        return VatCategory.NOT_SUBJECT
    return VatCategory.STANDARD if percent else VatCategory.ZERO


def vat_totals(lines: Iterable[Line]) -> tuple[VatTotal, ...]:
    """VAT of every (category, rate): rate x the sum of its nets, rounded once (BR-CO-17, BR-S-09).

    Lines that are not subject to VAT are in none.
    """
    bases: defaultdict[tuple[VatCategory, Decimal], int] = defaultdict(int)
    for line in lines:
        if line.vat_percent is not None:
            bases[line.vat_category, line.vat_percent] += line.net_minor
    return tuple(
        VatTotal(
            category=kind,
            percent=percent,
            base_minor=base,
            vat_minor=vat_of(base, percent),
        )
        for (kind, percent), base in sorted(bases.items(), key=lambda each: (each[0][0].value, each[0][1]))
    )


def vat_of(base_minor: int, percent: Decimal) -> int:
    """`percent` of the base in minor units, half up."""
    return half_up(base_minor * Fraction(percent) / 100)
