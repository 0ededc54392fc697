"""What a price component is, and what a kind of component must know of itself."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar

from csms.tariffs.curve import Segment


class Dimension(StrEnum):
    """OCPI's TariffDimensionType."""

    ENERGY = "ENERGY"
    FLAT = "FLAT"
    TIME = "TIME"
    PARKING_TIME = "PARKING_TIME"


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceComponent:
    """A price per kWh, per hour or per session, in major units of the tariff's currency.

    `vat_percent` None: the tariff names no VAT, which is not the same as 0 %.
    `step_size` in Wh or s: the block that is billed; 0 and 1 leave FLAT alone, 0 leaves all alone.
    """

    dimension: Dimension
    price: Decimal
    vat_percent: Decimal | None = None
    step_size: int = 1


class Kind(ABC):
    """One kind of component. Usage is counted in a base unit: Wh, s, or sessions."""

    dimension: ClassVar[Dimension]
    unit: ClassVar[str]
    """The unit that quotes print."""
    base_per_unit: ClassVar[int]
    """Base units in the printed unit."""
    base_per_price: ClassVar[int]
    """Base units in the unit that the price is for."""
    price_unit: ClassVar[str]
    rounds_with: ClassVar[str | None]
    """Kinds with the same word share one rounding to a step; None: never rounded."""
    in_reservation: ClassVar[bool]
    """Whether a reservation can cost in this dimension."""

    @abstractmethod
    def used(self, segment: Segment) -> Fraction | None:
        """Base units used in the segment; None when this dimension does not run during it."""


def round_up(used: Fraction, step: int) -> Fraction:
    """The lowest multiple of `step` that is not below `used`; `used` itself for step 0."""
    if step == 0:
        return used
    return Fraction(-(-used // step) * step)
