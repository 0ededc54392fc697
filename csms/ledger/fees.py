"""What members pay by the month, by the tariff that they are assigned to: fees, capacity, the cap."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from csms.access.ownerships.ownership import Ownership
from csms.ledger.inputs import Fee, Part
from csms.ledger.period import Month, days_within, midnight
from csms.ledger.statement import LineKind
from csms.money import Currency, Money, half_up
from csms.tariffs.component import Payer
from csms.tariffs.components.cap import Cap, Per
from csms.tariffs.components.capacity_fee import CapacityFee
from csms.tariffs.components.monthly_fee import MonthlyFee
from csms.tariffs.monthly import Month as PayersMonth
from csms.tariffs.monthly import month_lines
from csms.tariffs.stored import StoredTariff

_KINDS = {
    MonthlyFee.type: LineKind.MONTHLY_FEE,
    CapacityFee.type: LineKind.CAPACITY_FEE,
    Cap.type: LineKind.CAP,
}


def has_month_lines(stored: StoredTariff) -> bool:
    """Whether the tariff charges anything by the month."""
    return any(
        isinstance(own, MonthlyFee | CapacityFee) or (isinstance(own, Cap) and own.per is Per.MONTH)
        for own in stored.tariff.own
    )


def needs_peak(tariffs: Iterable[StoredTariff]) -> bool:
    """Whether any of them charges by the peak."""
    return any(isinstance(own, CapacityFee) for stored in tariffs for own in stored.tariff.own)


def days_there(mine: Sequence[Ownership], month: Month, zone: ZoneInfo) -> int:
    """Days of the month on which the member had anything; all of them where nothing is written down."""
    if not mine or any(each.from_at is None and each.to_at is None for each in mine):
        return month.days
    days = (midnight(month.first + timedelta(days=n), zone) for n in range(month.days))
    return sum(any(each.covers(day) for each in mine) for day in days)


def spaces_of(
    ownerships: Iterable[Ownership], month: Month, zone: ZoneInfo
) -> tuple[Mapping[str, int], Mapping[str, int], Mapping[str, str]]:
    """Member -> places it had in the month; member -> days of them; each place with its owner -> member."""
    start, end = month.bounds(zone)
    count: defaultdict[str, int] = defaultdict(int)
    days: defaultdict[str, int] = defaultdict(int)
    owners: dict[str, str] = {}
    for each in ownerships:
        if each.thing.station_id is None or not each.overlaps(start, end):
            continue
        count[each.member_id] += 1
        days[each.member_id] += days_within(each.from_at, each.to_at, month, zone)
        owners[f"{each.thing} of {each.member_id}"] = each.member_id
    return dict(count), dict(days), dict(sorted(owners.items()))


def fees_of(
    member_id: str,
    groups: frozenset[str],
    stored: StoredTariff,
    month: Month,
    there: int,
    parts: Iterable[Part],
    peak_wh: Mapping[str, int],
    currency: Currency,
) -> list[Fee]:
    """The member's fees by its tariff; nothing that comes to nothing."""
    sessions: defaultdict[Decimal | None, Fraction] = defaultdict(Fraction)
    for part in parts:
        for cost in part.costs:
            sessions[cost.percent] += Fraction(cost.net_minor, 10**currency.exponent)
    payer = Payer(member_id=member_id, group_ids=groups)
    lines = month_lines(
        stored.tariff,
        PayersMonth(
            payer=payer,
            days=month.days,
            days_there=there,
            peak_kw=Fraction(peak_wh.get(member_id, 0), 1000),
            sessions=dict(sessions),
        ),
    )
    found = []
    for line in lines:
        net = Money.from_decimal(line.cost.excl, currency).minor
        if net:
            quantity = Decimal(half_up(abs(line.quantity) * 10**6)).scaleb(-6)
            found.append(
                Fee(
                    account=member_id,
                    kind=_KINDS[line.word],
                    tariff_id=f"{stored.id}/{line.name}"[:80],
                    name=line.name or stored.name,
                    quantity=quantity.normalize() + 0 if quantity else Decimal(1),
                    net_minor=net,
                    percent=line.vat_percent,
                )
            )
    return found
