"""What a price component is, and what a kind of component must know of itself."""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar, Self

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Payer:
    """Who pays: a member with its groups, or a guest, who has neither."""

    member_id: str | None = None
    group_ids: frozenset[str] = frozenset()


GUEST = Payer()


@dataclass(frozen=True, slots=True, kw_only=True)
class Whom:
    """For whom a component is meant; with nobody named for everybody whom the tariff is for."""

    member_ids: frozenset[str] = frozenset()
    group_ids: frozenset[str] = frozenset()

    def has(self, payer: Payer) -> bool:
        if not self.member_ids and not self.group_ids:
            return True
        return payer.member_id in self.member_ids or bool(payer.group_ids & self.group_ids)


EVERYBODY = Whom()


class Own(ABC):
    """A kind of component that OCPI does not have: a frozen dataclass that can read and write itself.

    It stands in `phaseyard.components` beside the fields of the OCPI object and is never sent out.
    """

    type: ClassVar[str]
    vat_percent: Decimal | None
    """None: the tariff names no VAT, or that of what it acts on holds."""

    @classmethod
    @abstractmethod
    def read(cls, value: object, path: str) -> Self:
        """From a JSON object; InvalidInput names the path of what is wrong with it."""

    @abstractmethod
    def write(self) -> Mapping[str, object]:
        """The inverse of `read`."""


def round_up(used: Fraction, step: int) -> Fraction:
    """The lowest multiple of `step` that is not below `used`; `used` itself for step 0."""
    if step == 0:
        return used
    return Fraction(-(-used // step) * step)
