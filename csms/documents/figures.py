"""Numbers, amounts, dates and spans as one language writes them.

Rounding is ours, half up and before babel sees the number: babel rounds halves to even, and 2.665
would lose a cent on its way to paper. What babel does is digits, signs and separators.
"""

import copy
import re
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from csms.documents.extra import library
from csms.documents.language import Language
from csms.money import Currency, Exact, Money, half_up

_LETTER_BEFORE_DIGIT = re.compile(r"(?<=[A-Za-z])(?=\d)")


def settled(value: Exact, digits: int) -> Decimal:
    """`value` with exactly `digits` decimals, halves away from zero."""
    return Decimal(half_up(Fraction(value) * 10**digits)).scaleb(-digits)


@dataclass(frozen=True, slots=True)
class Figures:
    """How `language` writes; times of day are those of `zone`."""

    language: Language
    zone: ZoneInfo
    _locale: Any = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        locale = library("babel").Locale(self.language.value, self.language.region)
        object.__setattr__(self, "_locale", locale)

    def number(self, value: Exact, digits: int) -> str:
        """`value` with `digits` decimals and the language's separators."""
        return self._apply(self._locale.decimal_formats[None], settled(value, digits), digits)

    def shortest(self, value: Decimal, least: int, most: int) -> str:
        """`value` with as many decimals as it has, from `least` to `most`."""
        has = -int(value.normalize().as_tuple().exponent)
        return self.number(value, max(least, min(most, has)))

    def money(self, amount: Money) -> str:
        """The amount with its currency, e.g. `-1.234,50 €`."""
        digits = amount.currency.exponent
        return self._apply(self._pattern(amount.currency), amount.to_decimal(), digits, amount.currency)

    def rate(self, value: Decimal, currency: Currency, unit: str = "kWh") -> str:
        """A price for each unit with as many decimals as it has, from the currency's to six."""
        has = -int(value.normalize().as_tuple().exponent)
        digits = max(currency.exponent, min(6, has))
        text = self._apply(self._pattern(currency), settled(value, digits), digits, currency)
        return f"{text}/{unit}" if unit else text

    def energy(self, kwh: Exact, digits: int = 3) -> str:
        """Energy with its unit."""
        return f"{self.number(kwh, digits)}\N{NO-BREAK SPACE}kWh"

    def percent(self, value: Decimal) -> str:
        """`19 %`, as many decimals as it has, at most two."""
        return f"{self.shortest(value, 0, 2)}\N{NO-BREAK SPACE}%"

    def day(self, day: date) -> str:
        """A day in full."""
        return str(library("babel.dates").format_date(day, "long", self._locale))

    def short_day(self, day: date) -> str:
        """A day of a month that is known: `3. Jan.`."""
        return str(library("babel.dates").format_skeleton("MMMd", day, locale=self._locale))

    def days(self, first: date, last: date) -> str:
        """From `first` to `last`, both included."""
        if first == last:
            return self.day(first)
        return str(library("babel.dates").format_interval(first, last, "yMMMMd", locale=self._locale))

    def month(self, day: date) -> str:
        """The month that `day` is in, with its year."""
        return str(library("babel.dates").format_skeleton("yMMMM", day, locale=self._locale))

    def moment(self, at: datetime) -> str:
        """Day and minute at the site, for a list that is all of one period."""
        local = at.astimezone(self.zone)
        return f"{self.short_day(local.date())} {local:%H:%M}"

    def _pattern(self, currency: Currency) -> Any:
        """With the currency's sign, or its code where the sign is a word that only neighbours know (Nkr)."""
        pattern = self._locale.currency_formats["standard"]
        sign = self._locale.currency_symbols.get(currency.code, "")
        if sign == "kr" or sign.upper() == sign:
            return pattern
        return library("babel.numbers").parse_pattern(pattern.pattern.replace("¤", "¤¤"))

    def _apply(self, pattern: Any, value: Decimal, digits: int, currency: Currency | None = None) -> str:
        exact = copy.copy(pattern)
        exact.frac_prec = (digits, digits)
        if currency is None:
            return str(exact.apply(value, self._locale))
        text = str(exact.apply(value, self._locale, currency=currency.code, currency_digits=False))
        # CLDR sets a blank between a code of letters and its number; babel leaves it out.
        return _LETTER_BEFORE_DIGIT.sub("\N{NO-BREAK SPACE}", text)
