"""SPOT: energy at the market's price of the moment, passed on.

Per kWh and price interval: the market's price times `factor`, which may be negative; on top a mark-up
and fees for every kWh, which may not. It stands for the price of the ENERGY component of the elements
named (all that have one when none is), whose restrictions and VAT stay in force; the price written
there is what partners are shown.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import ClassVar, Self

from csms.errors import InvalidInput
from csms.tariffs.component import Own
from csms.tariffs.document import Fields, items, not_negative, text, whole


@dataclass(frozen=True, slots=True)
class Fee:
    """An amount for every kWh, in major units."""

    name: str
    per_kwh: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot(Own):
    type: ClassVar[str] = "SPOT"
    feed_id: str
    factor: Decimal = Decimal(1)
    markup_per_kwh: Decimal = Decimal(0)
    fees: tuple[Fee, ...] = ()
    elements: tuple[int, ...] = ()
    vat_percent: Decimal | None = None
    """Always None: the VAT of the ENERGY component holds."""

    def price_per_kwh(self, market_per_mwh: Decimal) -> Fraction:
        """What the market's price comes to, without mark-up and fees."""
        return Fraction(market_per_mwh) * Fraction(self.factor) / 1000

    def prices(self, element: int) -> bool:
        """Whether it stands for the energy price of that element."""
        return not self.elements or element in self.elements

    @classmethod
    def read(cls, value: object, path: str) -> Self:
        fields = Fields.of(value, path, ("type", "feed", "factor", "markup_per_kwh", "fees", "elements"))
        factor = fields.maybe("factor", not_negative)
        if factor == 0:
            raise InvalidInput(fields.at("factor"), "0 leaves nothing of the price; leave it out for 1")
        return cls(
            feed_id=fields.take("feed", text(40)),
            factor=Decimal(1) if factor is None else factor,
            markup_per_kwh=fields.maybe("markup_per_kwh", not_negative) or Decimal(0),
            fees=fields.maybe("fees", items(_fee)) or (),
            elements=fields.maybe("elements", items(whole, at_least=1)) or (),
        )

    def write(self) -> Mapping[str, object]:
        written: dict[str, object] = {"type": self.type, "feed": self.feed_id, "factor": self.factor}
        written["markup_per_kwh"] = self.markup_per_kwh
        if self.fees:
            written["fees"] = [{"name": fee.name, "per_kwh": fee.per_kwh} for fee in self.fees]
        if self.elements:
            written["elements"] = list(self.elements)
        return written


def _fee(value: object, path: str) -> Fee:
    fields = Fields.of(value, path, ("name", "per_kwh"))
    return Fee(name=fields.take("name", text(80)), per_kwh=fields.take("per_kwh", not_negative))
