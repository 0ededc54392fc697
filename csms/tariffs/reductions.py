"""Discounts and caps: what comes off a session's lines, as lines of quantity -1, one per VAT rate."""

from collections.abc import Sequence
from fractions import Fraction

from csms.tariffs.bill import Line, Phase, Stretch
from csms.tariffs.component import Payer
from csms.tariffs.components.cap import Cap, Per
from csms.tariffs.components.discount import Discount
from csms.tariffs.tariff import Tariff
from csms.tariffs.tax import Rate, in_tariff_terms, split_cost, spread

MINUS_ONE = Fraction(-1)


def reductions(lines: Sequence[Line], tariff: Tariff, payer: Payer) -> list[Line]:
    """What comes off for the payer: every discount on the lines as they are, then the lowest cap."""
    less = [
        line
        for own in tariff.own
        if isinstance(own, Discount) and own.whom.has(payer)
        for line in _discount(own, lines, tariff)
    ]
    caps = [own for own in tariff.own if isinstance(own, Cap) and own.per is Per.SESSION]
    fitting = [cap for cap in caps if cap.whom.has(payer)]
    if fitting:
        lowest = min(fitting, key=lambda cap: cap.amount)
        less += _cap(lowest, [*lines, *less], tariff)
    return less


def _discount(discount: Discount, lines: Sequence[Line], tariff: Tariff) -> list[Line]:
    found = []
    for rate, same in _by_rate([line for line in lines if discount.acts_on(line.dimension)]).items():
        base = _excl(same)
        if base > 0:
            reason = f"{discount.percent:f} % off what {_named(same)} cost"
            amount = base * Fraction(discount.percent) / 100
            found.append(_off("DISCOUNT", discount.name, amount, rate, same, tariff, reason))
    return found


def _cap(cap: Cap, lines: Sequence[Line], tariff: Tariff) -> list[Line]:
    whole = _excl(lines)
    if whole <= Fraction(cap.amount):
        return []
    rates = _by_rate(lines)
    sums = [_excl(same) for same in rates.values()]
    reason = f"a session costs at most {cap.amount:f} {tariff.currency} without VAT"
    return [
        _off("CAP", cap.name, before - after, rate, same, tariff, reason)
        for (rate, same), before, after in zip(
            rates.items(), sums, spread(Fraction(cap.amount), sums), strict=True
        )
        if before != after
    ]


def _off(
    word: str, name: str, amount: Fraction, rate: Rate, same: Sequence[Line], tariff: Tariff, reason: str
) -> Line:
    """`amount` off the lines of one rate; it falls where they fall, in proportion to what they cost."""
    base = _excl(same)
    price = in_tariff_terms(amount, rate, tariff)
    stretches = [
        Stretch(s.start, s.end, MINUS_ONE * (line.cost.excl / base) * (s.used / line.quantity))
        for line in same
        if line.quantity
        for s in line.stretches
    ]
    return Line(
        word=word,
        dimension=None,
        phase=Phase.SESSION,
        start=min(line.start for line in same),
        element=None,
        quantity=MINUS_ONE,
        used=MINUS_ONE,
        unit="each",
        price=price,
        price_unit="session",
        vat_percent=rate,
        cost=split_cost(-price, rate, tariff),
        reason=reason,
        stretches=tuple(stretches),
        name=name,
    )


def _by_rate(lines: Sequence[Line]) -> dict[Rate, list[Line]]:
    found: dict[Rate, list[Line]] = {}
    for line in lines:
        found.setdefault(line.vat_percent, []).append(line)
    return found


def _excl(lines: Sequence[Line]) -> Fraction:
    return sum((line.cost.excl for line in lines), Fraction(0))


def _named(lines: Sequence[Line]) -> str:
    return ", ".join(dict.fromkeys(line.name or line.word for line in lines))
