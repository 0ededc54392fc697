"""The tariff: OCPI's object, so that partners can exchange it, as checked values."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.component import Dimension, Own, PriceComponent
from csms.tariffs.components import KINDS
from csms.tariffs.components.capacity_fee import CapacityFee
from csms.tariffs.components.monthly_fee import MonthlyFee
from csms.tariffs.components.spot import Spot
from csms.tariffs.conditions import NONE, Restrictions


class TaxIncluded(StrEnum):
    """Whether prices hold the taxes (OCPI 2.3.0). Prices of OCPI 2.2.1 never do: NO."""

    YES = "YES"
    NO = "NO"
    NOT_APPLICABLE = "N/A"


class TariffType(StrEnum):
    """For which sessions a tariff is meant; None in a tariff means all."""

    AD_HOC_PAYMENT = "AD_HOC_PAYMENT"
    PROFILE_CHEAP = "PROFILE_CHEAP"
    PROFILE_FAST = "PROFILE_FAST"
    PROFILE_GREEN = "PROFILE_GREEN"
    REGULAR = "REGULAR"


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """Components with the conditions under which they apply, at most one per dimension."""

    components: tuple[PriceComponent, ...]
    restrictions: Restrictions = NONE

    def __post_init__(self) -> None:
        if not self.components:
            raise InvalidInput("price_components", "an element needs at least one")
        seen: set[Dimension] = set()
        for i, component in enumerate(self.components):
            if component.dimension in seen:
                raise InvalidInput(
                    f"price_components[{i}].type",
                    f"{component.dimension} occurs twice in one element; keep one",
                )
            seen.add(component.dimension)
            if self.restrictions.reservation and not KINDS[component.dimension].in_reservation:
                raise InvalidInput(
                    f"price_components[{i}].type",
                    f"a reservation can cost FLAT and TIME only, not {component.dimension}",
                )

    def component(self, dimension: Dimension) -> PriceComponent | None:
        """Its component of that dimension."""
        return next((c for c in self.components if c.dimension is dimension), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLimit:
    """A bound of a session's price, in major units, without and with VAT, each on its own total."""

    excl: Decimal
    incl: Decimal | None = None

    def __post_init__(self) -> None:
        if self.incl is not None and self.incl < self.excl:
            raise InvalidInput("", f"the amount with VAT, {self.incl}, is below the one without, {self.excl}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tariff:
    """A price list in one currency. The first element that fits prices each dimension.

    `valid_from` inclusive, `valid_until` exclusive, aware UTC. The identifying fields are None in
    a tariff that was written for ourselves; `particulars` holds the fields of the OCPI object
    that bear no price (tariff_alt_text, energy_mix …), verbatim. `own` are components that OCPI
    does not know; they are not exchanged.
    """

    currency: Currency
    elements: tuple[Element, ...]
    tax_included: TaxIncluded = TaxIncluded.NO
    min_price: PriceLimit | None = None
    max_price: PriceLimit | None = None
    valid_from: datetime | None = None
    valid_until: datetime | None = None
    country_code: str | None = None
    party_id: str | None = None
    id: str | None = None
    type: TariffType | None = None
    last_updated: datetime | None = None
    own: tuple[Own, ...] = ()
    particulars: Mapping[str, object] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        if not self.elements:
            raise InvalidInput("elements", "a tariff needs at least one; a free one is FLAT with price 0")
        low, high = self.min_price, self.max_price
        if low and high:
            if low.excl > high.excl:
                raise InvalidInput("max_price", f"{high.excl} is below the min_price of {low.excl}")
            if low.incl is not None and high.incl is not None and low.incl > high.incl:
                raise InvalidInput("max_price", f"{high.incl} with VAT is below the min_price of {low.incl}")
        if self.valid_from and self.valid_until and self.valid_until <= self.valid_from:
            raise InvalidInput("end_date_time", "the tariff ends before it starts")
        for i, own in enumerate(self.own):
            self._check_own(own, f"phaseyard.components[{i}]")

    def valid_at(self, instant: datetime) -> bool:
        """Whether a session that starts then (aware) may be priced by it."""
        return (self.valid_from is None or instant >= self.valid_from) and (
            self.valid_until is None or instant < self.valid_until
        )

    @property
    def components(self) -> Iterator[PriceComponent]:
        return (component for element in self.elements for component in element.components)

    @property
    def states_vat(self) -> bool:
        """Whether any component names a VAT rate; when none does, totals with VAT are unknown."""
        return any(component.vat_percent is not None for component in self.components)

    @property
    def spots(self) -> tuple[Spot, ...]:
        return tuple(own for own in self.own if isinstance(own, Spot))

    def spot_of(self, element: int) -> Spot | None:
        """What stands for the energy price of the element; None: the price that is written there."""
        return next((spot for spot in self.spots if spot.prices(element)), None)

    def _check_own(self, own: Own, path: str) -> None:
        if isinstance(own, Spot):
            self._check_spot(own, path)
        elif isinstance(own, MonthlyFee | CapacityFee):
            if self.states_vat and own.vat_percent is None:
                raise InvalidInput(
                    f"{path}.vat", "missing, and other prices name VAT; give the rate, 0 where none applies"
                )
            if not self.states_vat and own.vat_percent is not None:
                raise InvalidInput(
                    f"{path}.vat", "given, but no price component names VAT; name it there too"
                )

    def _check_spot(self, spot: Spot, path: str) -> None:
        if self.tax_included is TaxIncluded.YES:
            raise InvalidInput("tax_included", "is YES, but market prices are without taxes; give NO or N/A")
        for n, i in enumerate(spot.elements):
            if i >= len(self.elements) or self.elements[i].component(Dimension.ENERGY) is None:
                raise InvalidInput(f"{path}.elements[{n}]", f"elements[{i}] has no ENERGY component to price")
        meant = [
            (i, component)
            for i, element in enumerate(self.elements)
            if spot.prices(i) and (component := element.component(Dimension.ENERGY)) is not None
        ]
        if not meant:
            raise InvalidInput(path, "no element has an ENERGY component, which it would price")
        for i, component in meant:
            if self.spot_of(i) is not spot:
                raise InvalidInput(
                    f"{path}.elements", f"elements[{i}] follows the market already; name others"
                )
            if component.step_size > 1:
                raise InvalidInput(
                    f"elements[{i}].price_components",
                    f"ENERGY that follows the market has step_size 0 or 1, not {component.step_size}",
                )

    def with_price(self, dimension: Dimension, price: Decimal) -> "Tariff":
        """The same tariff with the actual price of a dimension put for the announced one.

        For tariffs whose `tariff_alt_url` says that the real price varies.
        """
        return replace(
            self,
            elements=tuple(
                replace(
                    element,
                    components=tuple(
                        replace(c, price=price) if c.dimension is dimension else c for c in element.components
                    ),
                )
                for element in self.elements
            ),
        )
