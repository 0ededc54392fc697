"""What pricing hands out: lines with their reasons, and the rounded totals."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from csms.money import Currency, half_up
from csms.tariffs.component import Dimension
from csms.tariffs.market.series import MarketPrice
from csms.tariffs.tax import Cost, Totals


class Phase(StrEnum):
    SESSION = "SESSION"
    RESERVATION = "RESERVATION"


@dataclass(frozen=True, slots=True)
class Stretch:
    """`used` of a line (in its unit, before rounding), evenly from `start` to `end` (aware UTC)."""

    start: datetime
    end: datetime
    used: Fraction


@dataclass(frozen=True, slots=True)
class PassedOver:
    """An element that comes before the one that prices a line, and what did not hold then."""

    element: int
    because: str


@dataclass(frozen=True, slots=True)
class Followed:
    """The market's price behind a line, and the feed it is of."""

    feed_id: str
    price: MarketPrice


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One use of one price component. `quantity` in `unit` is what is billed, `used` what was measured.

    `word` is the dimension's, or for what OCPI does not know our own: SPOT, SPOT_MARKUP, SPOT_FEE,
    DISCOUNT, CAP; `dimension` is None where it acts on several. A credit has a negative quantity; of
    our own words none ever has a negative price. `start` is the first instant of use (aware UTC),
    `element` the place in the tariff's list, None when it is of no single one. The `stretches` sum to
    `used`; what is due at once has no length.
    """

    word: str
    dimension: Dimension | None
    phase: Phase
    start: datetime
    element: int | None
    quantity: Fraction
    used: Fraction
    unit: str
    price: Decimal | Fraction
    price_unit: str
    vat_percent: Decimal | None
    cost: Cost
    reason: str
    stretches: tuple[Stretch, ...] = ()
    name: str = ""
    passed_over: tuple[PassedOver, ...] = ()
    followed: Followed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """The bill of one session from `start` to `end` (aware UTC): its lines and the rounded totals."""

    start: datetime
    end: datetime
    currency: Currency
    lines: tuple[Line, ...]
    totals: Totals


def decimal_text(value: Fraction, places: int = 6) -> str:
    """The value in plain decimals: exact where they end within `places`, else half up to so many."""
    scaled = half_up(value * 10**places)
    text = f"{Decimal(scaled).scaleb(-places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def exact_text(value: Decimal | Fraction) -> str:
    """A price: a Decimal as it is written, a fraction to ten places."""
    return f"{value:f}" if isinstance(value, Decimal) else decimal_text(value, 10)
