"""A bill cut at instants, as the ledger needs it: months, and whose the card was meanwhile.

The session is priced whole, once; its parts share what came out. Quantities and exact costs go by what
was used within a part; what a step_size adds goes where its component was used last, a fee to where it
fell due, mostly the start. Whole cents go by largest remainder within each VAT rate, ties to the
earlier part. So quantities, exact costs, net, VAT and gross of the parts sum to the bill, exactly.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from csms.money import Money, apportion
from csms.tariffs.bill import Line, Priced, Stretch
from csms.tariffs.tax import Cost, Rate, VatGroup, spread

_TICK = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class PartLine:
    """A line's share: `quantity` in the line's unit, `cost` exact."""

    line: Line
    quantity: Fraction
    cost: Cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The bill from `start` to before `end` (aware UTC). `lines` are those with a share in it.

    `groups` has every VAT rate of the bill, in its order.
    """

    start: datetime
    end: datetime
    lines: tuple[PartLine, ...]
    groups: tuple[VatGroup, ...]

    @property
    def net(self) -> Money:
        return sum((group.net for group in self.groups[1:]), self.groups[0].net)

    @property
    def vat(self) -> Money:
        """Zero where the tariff does not tell it."""
        return sum((group.vat for group in self.groups[1:]), self.groups[0].vat)

    @property
    def gross(self) -> Money:
        return self.net + self.vat


def split(priced: Priced, at: Iterable[datetime]) -> tuple[Part, ...]:
    """The bill cut at those instants (aware) of `at` that lie within the session; one more than they are."""
    start, end = priced.start, priced.end
    marks = [start, *sorted({mark.astimezone(UTC) for mark in at if start < mark < end}), end]
    spans = list(pairwise(marks))
    shared = [(line, _shares(line, spans)) for line in priced.lines]
    lines: list[list[PartLine]] = [[] for _ in spans]
    for line, shares in shared:
        for i, share in enumerate(shares):
            if share:
                lines[i].append(PartLine(line, line.quantity * share, _times(line.cost, share)))
    by_group = [_cents(group, shared, len(spans)) for group in priced.totals.groups]
    return tuple(
        Part(start=low, end=high, lines=tuple(lines[i]), groups=tuple(groups[i] for groups in by_group))
        for i, (low, high) in enumerate(spans)
    )


def _shares(line: Line, spans: Sequence[tuple[datetime, datetime]]) -> list[Fraction]:
    """Which fraction of the line falls into each span; they sum to 1."""
    used = [Fraction(0)] * len(spans)
    for stretch in line.stretches:
        for i, part in _over(stretch, spans):
            used[i] += part
    last = max((i for i, part in enumerate(used) if part), default=_place(line.start, spans))
    used[last] += line.quantity - sum(used)
    if not line.quantity:
        return [Fraction(i == last) for i in range(len(spans))]
    return [part / line.quantity for part in used]


def _over(stretch: Stretch, spans: Sequence[tuple[datetime, datetime]]) -> Iterable[tuple[int, Fraction]]:
    if stretch.end <= stretch.start:
        yield _place(stretch.start, spans), stretch.used
        return
    whole = stretch.end - stretch.start
    for i, (low, high) in enumerate(spans):
        begin, end = max(stretch.start, low), min(stretch.end, high)
        if begin < end:
            yield i, stretch.used * Fraction((end - begin) // _TICK, whole // _TICK)


def _place(instant: datetime, spans: Sequence[tuple[datetime, datetime]]) -> int:
    """The span that holds the instant; the end of the session belongs to the last one."""
    return max((i for i, (low, _) in enumerate(spans) if low <= instant), default=0)


def _times(cost: Cost, share: Fraction) -> Cost:
    return Cost(cost.excl * share, None if cost.incl is None else cost.incl * share)


def _cents(group: VatGroup, shared: Sequence[tuple[Line, Sequence[Fraction]]], parts: int) -> list[VatGroup]:
    nets, taxes = [Fraction(0)] * parts, [Fraction(0)] * parts
    for line, shares in shared:
        if line.vat_percent == group.vat_percent:
            for i, share in enumerate(shares):
                nets[i] += line.cost.excl * share
                taxes[i] += 0 if line.cost.incl is None else (line.cost.incl - line.cost.excl) * share
    currency, rate = group.net.currency, group.vat_percent
    net_parts = _whole(group.net.minor, nets)
    vat_parts = _whole(group.vat.minor, taxes if any(taxes) else nets)
    return [
        _group(rate, Money(net, currency), Money(vat, currency))
        for net, vat in zip(net_parts, vat_parts, strict=True)
    ]


def _group(rate: Rate, net: Money, vat: Money) -> VatGroup:
    return VatGroup(vat_percent=rate, net=net, vat=vat)


def _whole(minor: int, parts: Sequence[Fraction]) -> list[int]:
    """Whole minor units in proportion; with nothing to go by all of it to the first part, the start's."""
    if not any(parts):
        return [minor, *[0] * (len(parts) - 1)]
    return apportion(minor, spread(Fraction(minor), parts))
