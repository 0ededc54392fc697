"""Fees by the month."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from csms.access.ownerships.ownership import Ownership, Thing
from csms.ledger.fees import days_there, fees_of, has_month_lines, needs_peak, spaces_of
from csms.ledger.inputs import Part
from csms.ledger.period import Month, midnight
from csms.ledger.statement import LineKind
from csms.money import Currency
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.stored import StoredTariff

OSLO = ZoneInfo("Europe/Oslo")
MARCH = Month(2026, 3)
NOW = datetime(2026, 1, 1, tzinfo=UTC)
NOK = Currency("NOK")
MOVED = midnight(date(2026, 3, 15), OSLO)
BAY = Thing(None, "bay-1", 1)


def tariff(*own: dict[str, Any]) -> StoredTariff:
    document: dict[str, Any] = {
        "currency": "NOK",
        "elements": [{"price_components": [{"type": "ENERGY", "price": 1, "vat": 25, "step_size": 1}]}],
    } | ({"phaseyard": {"components": list(own)}} if own else {})
    made = parse_tariff(document, "t")
    return StoredTariff(id="t", site_id="yard", name="T", document=document, tariff=made, created_at=NOW)


FEE = {"type": "MONTHLY_FEE", "name": "Meter", "amount": 31, "vat": 25}
CAPACITY = {"type": "CAPACITY_FEE", "name": "Peak", "price_per_kw": 40, "vat": 25}
CAP = {"type": "CAP", "name": "At most", "amount": 20, "per": "MONTH"}


def owns(
    member: str, thing: Thing = BAY, from_at: datetime | None = None, to_at: datetime | None = None
) -> Ownership:
    return Ownership(
        id="o", site_id="yard", thing=thing, member_id=member, from_at=from_at, to_at=to_at, created_at=NOW
    )


def test_places_and_their_days_by_member() -> None:
    owned = [
        owns("a", to_at=MOVED),
        owns("b", from_at=MOVED),
        owns("b", Thing(None, "bay-2", 0)),
        owns("b", Thing("tok")),
        owns("c", from_at=midnight(date(2026, 4, 1), OSLO)),
    ]
    count, days, places = spaces_of(owned, MARCH, OSLO)
    assert count == {"a": 1, "b": 2}
    assert days == {"a": 14, "b": 48}
    assert sorted(places.values()) == ["a", "b", "b"]


def test_days_there() -> None:
    assert days_there([], MARCH, OSLO) == 31
    assert days_there([owns("a", from_at=MOVED)], MARCH, OSLO) == 17
    assert days_there([owns("a", from_at=MOVED), owns("a")], MARCH, OSLO) == 31


def test_a_fee_is_pro_rata_capacity_by_the_peak_and_a_cap_takes_off(
    make_part: Callable[..., Part],
) -> None:
    def fees(stored: StoredTariff, there: int) -> list[tuple[LineKind, str, Decimal, int]]:
        parts = [make_part("a", 1, 4000, 400)]
        found = fees_of("a", frozenset(), stored, MARCH, there, parts, {"a": 5500}, NOK)
        return [(fee.kind, fee.tariff_id, fee.quantity, fee.net_minor) for fee in found]

    assert fees(tariff(FEE), 31) == [(LineKind.MONTHLY_FEE, "t/Meter", Decimal(1), 3100)]
    assert fees(tariff(FEE), 17) == [(LineKind.MONTHLY_FEE, "t/Meter", Decimal("0.548387"), 1700)]
    assert fees(tariff(FEE), 0) == []
    assert fees(tariff(CAPACITY), 31) == [(LineKind.CAPACITY_FEE, "t/Peak", Decimal("5.5"), 22000)]
    assert fees(tariff(FEE, CAP), 31)[1] == (LineKind.CAP, "t/At most", Decimal(1), -1500)


def test_which_tariffs_charge_by_the_month() -> None:
    assert has_month_lines(tariff(FEE))
    assert has_month_lines(tariff(CAP))
    assert not has_month_lines(tariff())
    assert needs_peak([tariff(CAPACITY)])
    assert not needs_peak([tariff(FEE)])
