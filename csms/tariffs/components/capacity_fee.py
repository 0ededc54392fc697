"""CAPACITY_FEE: a price for every kW of the month's peak, paid by one's share of that peak.

Which peak and whose share of it the ledger finds out; here it is a number of kW.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Self

from csms.tariffs.component import Own
from csms.tariffs.document import Fields, not_negative, percent, text


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityFee(Own):
    """`price_per_kw` in major units for a month."""

    type: ClassVar[str] = "CAPACITY_FEE"
    name: str
    price_per_kw: Decimal
    vat_percent: Decimal | None = None

    @classmethod
    def read(cls, value: object, path: str) -> Self:
        fields = Fields.of(value, path, ("type", "name", "price_per_kw", "vat"))
        return cls(
            name=fields.take("name", text(80)),
            price_per_kw=fields.take("price_per_kw", not_negative),
            vat_percent=fields.maybe("vat", percent),
        )

    def write(self) -> Mapping[str, object]:
        written: dict[str, object] = {"type": self.type, "name": self.name}
        written["price_per_kw"] = self.price_per_kw
        return written if self.vat_percent is None else {**written, "vat": self.vat_percent}
