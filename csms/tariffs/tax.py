"""VAT of a priced session, and how min_price and max_price act on it.

Lines are grouped by VAT rate. The sums without and with VAT are each held within the limits on
their own, as OCPI says, then rounded half up once; VAT is what lies between the two totals. OCPI
does not say how a limit spreads over VAT rates: here the difference goes pro rata on the amounts
of the groups, and whole cents by largest remainder, ties to the lower rate.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from csms.money import Currency, Money, apportion
from csms.tariffs.tariff import PriceLimit, Tariff, TaxIncluded

Rate = Decimal | None
"""VAT in percent; None where the tariff names none."""


@dataclass(frozen=True, slots=True)
class Cost:
    """An exact cost in major units. `incl` is None where the tariff does not tell the VAT."""

    excl: Fraction
    incl: Fraction | None


_NOTHING = Cost(Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class VatGroup:
    """What is billed at one rate; the groups sum to the totals, to the cent."""

    vat_percent: Rate
    net: Money
    vat: Money

    @property
    def gross(self) -> Money:
        return self.net + self.vat


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """`incl` is None, and `groups` hold no VAT, where the tariff does not tell it.

    `limit` is `min_price` or `max_price` when one of them set a total.
    """

    excl: Money
    incl: Money | None
    groups: tuple[VatGroup, ...]
    limit: str | None

    @property
    def vat(self) -> Money:
        return Money.zero(self.excl.currency) if self.incl is None else self.incl - self.excl

    @property
    def payable(self) -> Money:
        """With VAT where it is known, else the amount before it."""
        return self.excl if self.incl is None else self.incl


def split_cost(cost: Fraction, rate: Rate, tariff: Tariff) -> Cost:
    """A line's cost at the tariff's price, without and with VAT.

    A line without a rate: no VAT applies to it when the tariff names VAT elsewhere or says that
    none is applicable; else VAT is not known (OCPI 2.2.1 "First hour free energy example"). Where
    prices include a tax of unknown rate, both figures are the price as it stands.
    """
    if rate is not None:
        factor = 1 + Fraction(rate) / 100
        if tariff.tax_included is TaxIncluded.YES:
            return Cost(cost / factor, cost)
        return Cost(cost, cost * factor)
    known = tariff.states_vat or tariff.tax_included is not TaxIncluded.NO or not cost
    return Cost(cost, cost if known else None)


def in_tariff_terms(amount: Fraction, rate: Rate, tariff: Tariff) -> Fraction:
    """An amount without VAT as the tariff states its prices: with VAT where these hold it."""
    if tariff.tax_included is TaxIncluded.YES and rate is not None:
        return amount * (1 + Fraction(rate) / 100)
    return amount


def total(lines: Iterable[tuple[Rate, Cost]], tariff: Tariff, *, apply_min: bool = True) -> Totals:
    """Sum, limit and round the lines' costs."""
    groups: dict[Rate, Cost] = {}
    for rate, cost in lines:
        sum_so_far = groups.get(rate, _NOTHING)
        incl = sum_so_far.incl + cost.incl if sum_so_far.incl is not None and cost.incl is not None else None
        groups[rate] = Cost(sum_so_far.excl + cost.excl, incl)
    ordered = dict(sorted(groups.items(), key=lambda item: Decimal(-1) if item[0] is None else item[0]))
    return _limited(ordered or {None: _NOTHING}, tariff, apply_min=apply_min)


def _limited(groups: Mapping[Rate, Cost], tariff: Tariff, *, apply_min: bool) -> Totals:
    rates = list(groups)
    nets = [cost.excl for cost in groups.values()]
    taxes = [Fraction(0) if cost.incl is None else cost.incl - cost.excl for cost in groups.values()]
    excl = sum(nets, Fraction(0))
    incl = None if any(cost.incl is None for cost in groups.values()) else excl + sum(taxes)
    limit = None
    if apply_min and tariff.min_price is not None:
        raised = _bounded(excl, incl, tariff.min_price, max, rates, nets)
        limit, excl, incl = (limit if raised == (excl, incl) else "min_price"), *raised
    if tariff.max_price is not None:
        lowered = _bounded(excl, incl, tariff.max_price, min, rates, nets)
        limit, excl, incl = (limit if lowered == (excl, incl) else "max_price"), *lowered
    return _rounded(excl, incl, rates, nets, taxes, limit, tariff.currency)


def _bounded(
    excl: Fraction,
    incl: Fraction | None,
    bound: PriceLimit,
    pick: Callable[[Fraction, Fraction], Fraction],
    rates: Sequence[Rate],
    nets: Sequence[Fraction],
) -> tuple[Fraction, Fraction | None]:
    """Both sums within the bound. A bound that names no amount with VAT lets VAT follow the net."""
    held = pick(excl, Fraction(bound.excl))
    if incl is None:
        return held, None
    if bound.incl is not None:
        return held, pick(incl, Fraction(bound.incl))
    if held == excl:
        return held, incl
    vat = sum(
        (net * Fraction(rate or 0) / 100 for rate, net in zip(rates, spread(held, nets), strict=True)),
        Fraction(0),
    )
    return held, held + vat


def _rounded(
    excl: Fraction,
    incl: Fraction | None,
    rates: Sequence[Rate],
    nets: Sequence[Fraction],
    taxes: Sequence[Fraction],
    limit: str | None,
    currency: Currency,
) -> Totals:
    total_excl = Money.from_decimal(excl, currency)
    total_incl = None if incl is None else Money.from_decimal(incl, currency)
    vat_minor = 0 if total_incl is None else (total_incl - total_excl).minor
    bases = taxes if any(taxes) else nets
    net_parts = _whole(total_excl.minor, nets)
    vat_parts = _whole(vat_minor, bases)
    groups = tuple(
        VatGroup(vat_percent=rate, net=Money(net, currency), vat=Money(vat, currency))
        for rate, net, vat in zip(rates, net_parts, vat_parts, strict=True)
    )
    return Totals(excl=total_excl, incl=total_incl, groups=groups, limit=limit)


def _whole(minor: int, parts: Sequence[Fraction]) -> list[int]:
    """Whole minor units in proportion to `parts`, summing to `minor`."""
    return apportion(minor, spread(Fraction(minor), parts))


def spread(target: Fraction, parts: Sequence[Fraction]) -> list[Fraction]:
    """`parts` moved to sum to `target`, the difference pro rata on their sizes.

    With parts of one sign this is plain proportion; with both signs (a credit among charges) no
    part is blown up. With nothing to go by, the last part, of the highest rate, takes it all.
    """
    difference = target - sum(parts, Fraction(0))
    size = sum((abs(part) for part in parts), Fraction(0))
    if not size:
        return [Fraction(0)] * (len(parts) - 1) + [target]
    return [part + difference * abs(part) / size for part in parts]
