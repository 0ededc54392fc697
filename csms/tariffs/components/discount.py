"""DISCOUNT: so many percent less for members or groups, on all of a session or on some dimensions.

It takes from what there is to pay; where credits outweigh the charges there is nothing to take from.
The VAT is that of the lines it acts on.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Self

from csms.errors import InvalidInput
from csms.tariffs.component import EVERYBODY, Dimension, Own, Whom
from csms.tariffs.document import Fields, choice, items, percent, text


@dataclass(frozen=True, slots=True, kw_only=True)
class Discount(Own):
    """`dimensions` empty: on everything."""

    type: ClassVar[str] = "DISCOUNT"
    name: str
    percent: Decimal
    dimensions: tuple[Dimension, ...] = ()
    whom: Whom = EVERYBODY
    vat_percent: Decimal | None = None

    def acts_on(self, dimension: Dimension | None) -> bool:
        return not self.dimensions or dimension in self.dimensions

    @classmethod
    def read(cls, value: object, path: str) -> Self:
        fields = Fields.of(value, path, ("type", "name", "percent", "dimensions", "members", "groups"))
        off = fields.take("percent", percent)
        if off == 0:
            raise InvalidInput(fields.at("percent"), "0 takes nothing off; leave the discount out")
        return cls(
            name=fields.take("name", text(80)),
            percent=off,
            dimensions=fields.maybe("dimensions", items(choice(Dimension), at_least=1)) or (),
            whom=read_whom(fields),
        )

    def write(self) -> Mapping[str, object]:
        written: dict[str, object] = {"type": self.type, "name": self.name, "percent": self.percent}
        if self.dimensions:
            written["dimensions"] = [dimension.value for dimension in self.dimensions]
        return {**written, **write_whom(self.whom)}


def read_whom(fields: Fields) -> Whom:
    """The fields `members` and `groups`."""
    return Whom(
        member_ids=frozenset(fields.maybe("members", items(text(40), at_least=1)) or ()),
        group_ids=frozenset(fields.maybe("groups", items(text(40), at_least=1)) or ()),
    )


def write_whom(whom: Whom) -> Mapping[str, object]:
    named = {"members": sorted(whom.member_ids), "groups": sorted(whom.group_ids)}
    return {name: ids for name, ids in named.items() if ids}
