"""Amounts, rates and days in bodies: decimal text and no JSON number, so that nothing is rounded."""

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import Field

from csms.errors import InvalidInput
from csms.money import Currency, Money

AmountText = Annotated[str, Field(pattern=r"^-?\d{1,12}(\.\d{1,4})?$", examples=["1249.50"])]
"""An amount in major units."""

PercentText = Annotated[str, Field(pattern=r"^\d{1,3}(\.\d{1,2})?$", examples=["25"])]
"""A rate in percent."""

CurrencyText = Annotated[str, Field(pattern="^[A-Z]{3}$", examples=["NOK"])]
"""An ISO 4217 code."""

Day = Annotated[date, Field(strict=False, examples=["2026-11-01"])]
"""A local day of the site."""


def minor_of(field: str, text: str, currency: str) -> int:
    """The amount in minor units; InvalidInput (`field`) when it has more decimals than the currency."""
    exponent = Currency(currency).exponent
    amount = Decimal(text)
    if amount != round(amount, exponent):
        raise InvalidInput(field, f"{text} has more decimals than {currency}, which has {exponent}")
    return int(amount.scaleb(exponent))


def text_of(minor: int, currency: str) -> str:
    """Minor units as decimal text in major units."""
    return Money(minor, Currency(currency)).text()
