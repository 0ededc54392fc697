"""MONTHLY_FEE: a fixed amount for every month, pro rata by days for a month that is not whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Self

from csms.tariffs.component import Own
from csms.tariffs.document import Fields, not_negative, percent, text


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthlyFee(Own):
    """`amount` in major units for a whole month."""

    type: ClassVar[str] = "MONTHLY_FEE"
    name: str
    amount: Decimal
    vat_percent: Decimal | None = None

    @classmethod
    def read(cls, value: object, path: str) -> Self:
        fields = Fields.of(value, path, ("type", "name", "amount", "vat"))
        return cls(
            name=fields.take("name", text(80)),
            amount=fields.take("amount", not_negative),
            vat_percent=fields.maybe("vat", percent),
        )

    def write(self) -> Mapping[str, object]:
        written: dict[str, object] = {"type": self.type, "name": self.name, "amount": self.amount}
        return written if self.vat_percent is None else {**written, "vat": self.vat_percent}
