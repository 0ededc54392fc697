"""Amounts of money: whole minor units of one ISO 4217 currency, and the two ways to round.

Rates and intermediate results are Decimal or Fraction, exact. An amount comes into being once, by
`Money.from_decimal` (half up, away from zero below it, so that a credit mirrors its debit), or by
sharing out another amount (`share`: largest remainder, nothing lost). A float is refused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from csms.errors import InvalidInput

Exact = int | Decimal | Fraction
"""A number that is what it says."""

_EXPONENTS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: """AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF
        CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ
        GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD
        MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON
        RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS
        UAH USD USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG""",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
CURRENCIES: Mapping[str, int] = {
    code: exponent for exponent, codes in _EXPONENTS.items() for code in codes.split()
}
"""ISO 4217 alphabetic code -> digits of the minor unit (list one, without metals and test codes)."""


@dataclass(frozen=True, slots=True)
class Currency:
    """An ISO 4217 currency; InvalidInput (field `currency`) for a code that the list does not have."""

    code: str

    def __post_init__(self) -> None:
        if self.code not in CURRENCIES:
            raise InvalidInput("currency", f"{self.code!r} is not an ISO 4217 code such as EUR, SEK or JPY")

    @property
    def exponent(self) -> int:
        """Decimals of the minor unit: EUR 2, JPY 0, KWD 3."""
        return CURRENCIES[self.code]

    def __str__(self) -> str:
        return self.code


def half_up(value: Exact) -> int:
    """The nearest whole number, halves away from zero."""
    exact = Fraction(value)
    whole = (2 * abs(exact.numerator) + exact.denominator) // (2 * exact.denominator)
    return whole if exact >= 0 else -whole


@dataclass(frozen=True, slots=True)
class Money:
    """`minor` whole minor units (cents) of `currency`; may be negative (a credit)."""

    minor: int
    currency: Currency

    def __post_init__(self) -> None:
        if type(self.minor) is not int:
            raise TypeError(f"Money takes whole minor units, not {self.minor!r}; see Money.from_decimal")
        if not isinstance(self.currency, Currency):
            raise TypeError(f"Money takes a Currency, not {self.currency!r}")

    @classmethod
    def zero(cls, currency: Currency) -> "Money":
        return cls(0, currency)

    @classmethod
    def from_decimal(cls, amount: Exact, currency: Currency) -> "Money":
        """`amount` in major units, rounded half up to the minor unit: the one rounding of an amount."""
        if isinstance(amount, float):
            raise TypeError("Money is never made from a float: it does not hold 0.10")
        if isinstance(amount, Decimal) and not amount.is_finite():
            raise InvalidInput("amount", f"{amount} is not an amount of money")
        return cls(half_up(Fraction(amount) * 10**currency.exponent), currency)

    def to_decimal(self) -> Decimal:
        """The amount in major units, exact, with all its decimals: 5.00, not 5."""
        return Decimal(self.minor).scaleb(-self.currency.exponent)

    def text(self) -> str:
        """The amount alone, e.g. `-5.00`."""
        return f"{self.to_decimal():f}"

    def __str__(self) -> str:
        return f"{self.text()} {self.currency.code}"

    def __add__(self, other: "Money") -> "Money":
        return Money(self.minor + self._same(other), self.currency)

    def __sub__(self, other: "Money") -> "Money":
        return Money(self.minor - self._same(other), self.currency)

    def __neg__(self) -> "Money":
        return Money(-self.minor, self.currency)

    def __lt__(self, other: "Money") -> bool:
        return self.minor < self._same(other)

    def __le__(self, other: "Money") -> bool:
        return self.minor <= self._same(other)

    def _same(self, other: "Money") -> int:
        if not isinstance(other, Money):
            raise TypeError(f"{self} meets {other!r}, which is no amount of money")
        if other.currency != self.currency:
            raise InvalidInput(
                "currency", f"{self} and {other} are in different currencies; convert one first"
            )
        return other.minor


def apportion(total: int, targets: Sequence[Fraction]) -> list[int]:
    """Whole numbers near `targets` that sum to `total`, by largest remainder; ties to the earlier one.

    `total` must lie within len(targets) of the sum of the targets' floors, as any rounding of
    their sum does; ValueError when it does not.
    """
    parts = [target.numerator // target.denominator for target in targets]
    missing = total - sum(parts)
    if not 0 <= missing <= len(parts):
        raise ValueError(f"{total} is not a rounding of the sum of {[str(target) for target in targets]}")
    by_remainder = sorted(range(len(parts)), key=lambda i: parts[i] - targets[i])
    for i in by_remainder[:missing]:
        parts[i] += 1
    return parts


K = TypeVar("K", str, int)


def share(total: Money, weights: Mapping[K, Exact]) -> dict[K, Money]:
    """Split `total` in proportion to `weights` (id -> weight >= 0), exactly, in order of the ids.

    Largest remainder; equal remainders go to the lower id. A negative total mirrors the positive
    one. InvalidInput when a weight is negative or all are zero while there is something to share.
    """
    ids = sorted(weights)
    exact = [Fraction(weights[key]) for key in ids]
    for key, weight in zip(ids, exact, strict=True):
        if weight < 0:
            raise InvalidInput(f"weights.{key}", f"{weights[key]} is negative; a share cannot be")
    whole = sum(exact)
    if not whole:
        if total.minor:
            raise InvalidInput("weights", f"all weights are zero, so {total} has no one to go to")
        return dict.fromkeys(ids, total)
    sign = -1 if total.minor < 0 else 1
    parts = apportion(abs(total.minor), [abs(total.minor) * weight / whole for weight in exact])
    return {key: Money(sign * part, total.currency) for key, part in zip(ids, parts, strict=True)}
