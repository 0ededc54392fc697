"""Pools: what suppliers charge for the whole site, and the rule by which it is shared."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from csms.errors import InvalidInput
from csms.ledger.period import Month
from csms.ledger.terms import Terms, check_percent
from csms.money import Currency, Money, apportion
from csms.sites.model import check_id, check_name

LARGEST_MINOR = 10**14
LONGEST_DAYS = 732


class Key(StrEnum):
    """By what a pool is shared.

    KWH: energy of the month. EQUAL: the same for every active space. DAYS: spaces times the days they
    were one's. PEAK: energy in the hour in which all chargers together drew most. ASSOCIATION: not shared.
    """

    KWH = "kwh"
    EQUAL = "equal"
    DAYS = "days"
    PEAK = "peak"
    ASSOCIATION = "association"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """An invoice. `amount_minor` is without VAT, `vat_minor` on top; negative for a credit of the supplier.

    From `period_start` to before `period_end`, local days of the site.
    """

    id: str
    site_id: str
    name: str
    supplier: str = ""
    invoice: str = ""
    amount_minor: int
    vat_minor: int = 0
    vat_percent: Decimal | None = None
    currency: str
    period_start: date
    period_end: date
    key: Key
    created_at: datetime

    @property
    def gross_minor(self) -> int:
        return self.amount_minor + self.vat_minor

    def months(self) -> tuple[Month, ...]:
        found = [Month.of_day(self.period_start)]
        while found[-1].after.first < self.period_end:
            found.append(found[-1].after)
        return tuple(found)


def check_pool(pool: Pool, terms: Terms, currency: str) -> Pool:
    """`pool` in its final form, for a site that bills in `currency`; InvalidInput names the field."""
    check_id("id", pool.id)
    if Currency(pool.currency).code != currency:
        raise InvalidInput("currency", f"is {pool.currency}, but the site is billed in {currency}")
    if not abs(pool.amount_minor) <= LARGEST_MINOR or not abs(pool.vat_minor) <= LARGEST_MINOR:
        raise InvalidInput("amount", "is larger than any invoice")
    if pool.period_end <= pool.period_start:
        raise InvalidInput("period_end", "must be later than period_start (the end is exclusive)")
    if (pool.period_end - pool.period_start).days > LONGEST_DAYS:
        raise InvalidInput("period_end", f"is more than {LONGEST_DAYS} days after period_start")
    first = Month.parse(terms.first_month).first
    if pool.period_start < first:
        raise InvalidInput(
            "period_start", f"is before {first}, the first month that this site bills: it is in no period"
        )
    percent = pool.vat_percent
    if terms.registered:
        if percent is None:
            raise InvalidInput(
                "vat_percent", "is missing: the association is registered for VAT; 0 if there is none"
            )
        check_percent("vat_percent", percent)
        expected = Money.from_decimal(
            Fraction(pool.amount_minor, 10 ** Currency(currency).exponent) * Fraction(percent) / 100,
            Currency(currency),
        )
        if abs(expected.minor - pool.vat_minor) > 1 + abs(expected.minor) // 1000:
            raise InvalidInput("vat", f"does not fit amount and vat_percent, which make {expected}")
    elif percent is not None:
        check_percent("vat_percent", percent)
    return replace(
        pool,
        name=check_name("name", pool.name),
        supplier=_line("supplier", pool.supplier),
        invoice=_line("invoice", pool.invoice),
    )


def of_month(pool: Pool, minor: int, month: Month) -> int:
    """What of `minor`, an amount of the pool, is the month's: by days, whole cents by largest remainder."""
    months = pool.months()
    if month not in months:
        return 0
    days = (pool.period_end - pool.period_start).days
    sign = -1 if minor < 0 else 1
    targets = [Fraction(abs(minor) * _days(pool, each), days) for each in months]
    return sign * apportion(abs(minor), targets)[months.index(month)]


def weights_of(
    key: Key,
    *,
    energy_wh: Mapping[str, int],
    spaces: Mapping[str, int],
    space_days: Mapping[str, int],
    peak_wh: Mapping[str, int],
    association: str,
) -> Mapping[str, int]:
    """Account -> weight by a key; a key that nobody has a weight for leaves it to the association."""
    weights: Mapping[str, int] = {
        Key.KWH: energy_wh,
        Key.EQUAL: spaces,
        Key.DAYS: space_days,
        Key.PEAK: peak_wh,
        Key.ASSOCIATION: {association: 1},
    }[key]
    return weights if any(weights.values()) else {association: 1}


def _days(pool: Pool, month: Month) -> int:
    first, end = max(pool.period_start, month.first), min(pool.period_end, month.after.first)
    return max(timedelta(0), end - first).days


def _line(field: str, value: str) -> str:
    return check_name(field, value) if value.strip() else ""
