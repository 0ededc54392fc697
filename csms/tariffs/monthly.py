"""What a tariff charges a member by the month, beside its sessions: fixed fees, capacity, a cap.

The ledger says how much of the month the member was there, its share of the peak in kW, and what its
sessions came to; here are the lines that follow. A cap counts sessions, fees and capacity, and takes
off pro rata on the VAT rates what is above it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from csms.errors import InvalidInput
from csms.tariffs.bill import decimal_text
from csms.tariffs.component import Payer
from csms.tariffs.components.cap import Cap, Per
from csms.tariffs.components.capacity_fee import CapacityFee
from csms.tariffs.components.monthly_fee import MonthlyFee
from csms.tariffs.tariff import Tariff
from csms.tariffs.tax import Cost, Rate, in_tariff_terms, split_cost, spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """A payer's month. `days_there` of its `days`; `peak_kw` is its share of the peak, None: not known.

    `sessions`: what its sessions cost without VAT, in major units, by VAT rate.
    """

    payer: Payer
    days: int
    days_there: int
    peak_kw: Fraction | None = None
    sessions: Mapping[Rate, Fraction] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not 0 <= self.days_there <= self.days or not self.days:
            raise InvalidInput("days_there", f"must be from 0 to the month's {self.days} days")


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthLine:
    """`word` is the component's type; `quantity` in `unit` at `price`; a cap has quantity -1."""

    word: str
    name: str
    quantity: Fraction
    unit: str
    price: Decimal | Fraction
    vat_percent: Rate
    cost: Cost
    reason: str


def month_lines(tariff: Tariff, month: Month) -> tuple[MonthLine, ...]:
    """The lines in the order of the tariff's components, the lowest cap last.

    InvalidInput (`peak_kw`) when the tariff has a capacity fee and the share of the peak is not known.
    """
    lines = []
    for own in tariff.own:
        if isinstance(own, MonthlyFee):
            lines.append(_fee(own, month, tariff))
        elif isinstance(own, CapacityFee):
            lines.append(_capacity(own, month, tariff))
    return (*lines, *_cap(lines, month, tariff))


def _fee(own: MonthlyFee, month: Month, tariff: Tariff) -> MonthLine:
    part = Fraction(month.days_there, month.days)
    whole = month.days_there == month.days
    return MonthLine(
        word=own.type,
        name=own.name,
        quantity=part,
        unit="month",
        price=own.amount,
        vat_percent=own.vat_percent,
        cost=split_cost(part * Fraction(own.amount), own.vat_percent, tariff),
        reason="a whole month" if whole else f"{month.days_there} of {month.days} days",
    )


def _capacity(own: CapacityFee, month: Month, tariff: Tariff) -> MonthLine:
    if month.peak_kw is None:
        raise InvalidInput("peak_kw", f"is not known, and {own.name!r} is charged by it")
    return MonthLine(
        word=own.type,
        name=own.name,
        quantity=month.peak_kw,
        unit="kW",
        price=own.price_per_kw,
        vat_percent=own.vat_percent,
        cost=split_cost(month.peak_kw * Fraction(own.price_per_kw), own.vat_percent, tariff),
        reason=f"a share of {decimal_text(month.peak_kw, 3)} kW of the month's peak",
    )


def _cap(lines: list[MonthLine], month: Month, tariff: Tariff) -> list[MonthLine]:
    fitting = [
        own
        for own in tariff.own
        if isinstance(own, Cap) and own.per is Per.MONTH and own.whom.has(month.payer)
    ]
    if not fitting:
        return []
    cap = min(fitting, key=lambda each: each.amount)
    sums = dict(month.sessions)
    for line in lines:
        sums[line.vat_percent] = sums.get(line.vat_percent, Fraction(0)) + line.cost.excl
    if sum(sums.values(), Fraction(0)) <= Fraction(cap.amount):
        return []
    rates = sorted(sums, key=lambda rate: Decimal(-1) if rate is None else rate)
    before = [sums[rate] for rate in rates]
    after = spread(Fraction(cap.amount), before)
    return [_off(cap, old - new, rate, tariff) for rate, old, new in zip(rates, before, after, strict=True)]


def _off(cap: Cap, amount: Fraction, rate: Rate, tariff: Tariff) -> MonthLine:
    price = in_tariff_terms(amount, rate, tariff)
    return MonthLine(
        word=cap.type,
        name=cap.name,
        quantity=Fraction(-1),
        unit="each",
        price=price,
        vat_percent=rate,
        cost=split_cost(-price, rate, tariff),
        reason=f"a month costs at most {cap.amount:f} {tariff.currency} without VAT",
    )
