"""CAP: the most that members or groups pay, without VAT, for a session or for a month.

What is above it is taken off, pro rata on the VAT rates; the VAT follows.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar, Self

from csms.tariffs.component import EVERYBODY, Own, Whom
from csms.tariffs.components.discount import read_whom, write_whom
from csms.tariffs.document import Fields, choice, not_negative, text


class Per(StrEnum):
    SESSION = "SESSION"
    MONTH = "MONTH"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap(Own):
    """`amount` in major units without VAT."""

    type: ClassVar[str] = "CAP"
    name: str
    amount: Decimal
    per: Per
    whom: Whom = EVERYBODY
    vat_percent: Decimal | None = None

    @classmethod
    def read(cls, value: object, path: str) -> Self:
        fields = Fields.of(value, path, ("type", "name", "amount", "per", "members", "groups"))
        return cls(
            name=fields.take("name", text(80)),
            amount=fields.take("amount", not_negative),
            per=fields.take("per", choice(Per)),
            whom=read_whom(fields),
        )

    def write(self) -> Mapping[str, object]:
        written = {"type": self.type, "name": self.name, "amount": self.amount, "per": self.per.value}
        return {**written, **write_whom(self.whom)}
