"""What discounts and caps take off a session."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.tariffs.bill import Priced
from csms.tariffs.component import GUEST, Payer
from csms.tariffs.curve import Curve, Segment, SegmentKind
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.parts import split
from csms.tariffs.pricing import price

Make = Callable[..., dict[str, object]]
START = datetime(2026, 1, 31, 22, tzinfo=UTC)
VAN = Payer(member_id="van-1", group_ids=frozenset({"bakery"}))
OFF = {"type": "DISCOUNT", "name": "Bakery", "percent": 10, "groups": ["bakery"]}
CAP = {"type": "CAP", "name": "At most", "amount": 8, "per": "SESSION"}


@pytest.fixture
def bill(tariff_document: Make) -> Callable[..., Priced]:
    """20 kWh at 0.30 with 25 % and a fee of 4.00 with 12 %: 10.00 and 1.98 VAT."""

    def made(*components: dict[str, object], payer: Payer = VAN, **fields: object) -> Priced:
        doc = tariff_document((None, ("ENERGY", Decimal("0.30"), 1, 25), ("FLAT", 4, 1, 12)), **fields)
        if components:
            doc["phaseyard"] = {"components": list(components)}
        segment = Segment(kind=SegmentKind.CHARGING, duration_s=Fraction(7200), energy_wh=Fraction(20_000))
        curve = Curve(start=START, zone=ZoneInfo("Europe/Brussels"), segments=(segment,))
        return price(parse_tariff(doc), curve, payer=payer)

    return made


def off(priced: Priced) -> list[tuple[str, int, Fraction]]:
    less = [line for line in priced.lines if line.quantity < 0]
    return [(line.word, int(line.vat_percent or 0), line.cost.excl) for line in less]


def totals(priced: Priced) -> tuple[str, str]:
    assert priced.totals.incl is not None
    return priced.totals.excl.text(), priced.totals.incl.text()


def test_a_discount_is_a_line_per_vat_rate(bill: Callable[..., Priced]) -> None:
    assert totals(bill()) == ("10.00", "11.98")
    priced = bill(OFF)
    assert sorted(off(priced), key=lambda each: each[2]) == [
        ("DISCOUNT", 25, Fraction("-0.6")),
        ("DISCOUNT", 12, Fraction("-0.4")),
    ]
    assert totals(priced) == ("9.00", "10.78"), "11.98 less a tenth"
    assert all(line.price >= 0 for line in priced.lines)
    assert priced.lines[-1].reason.startswith("10 % off what ")


def test_a_discount_is_for_whom_it_is(bill: Callable[..., Priced]) -> None:
    assert off(bill(OFF, payer=GUEST)) == []
    assert off(bill({**OFF, "dimensions": ["ENERGY"]})) == [("DISCOUNT", 25, Fraction("-0.6"))]


def test_where_prices_hold_taxes_a_discount_does_too(bill: Callable[..., Priced]) -> None:
    plain, less = bill(tax_included="YES"), bill(OFF, tax_included="YES")
    assert totals(plain)[1] == "10.00"
    assert totals(less)[1] == "9.00"
    assert sum(line.cost.excl for line in less.lines) == Fraction(9, 10) * sum(
        line.cost.excl for line in plain.lines
    )


def test_credits_are_not_discounted(tariff_document: Make, quote: Callable[..., dict[str, Any]]) -> None:
    everybody = {"type": "DISCOUNT", "name": "All", "percent": 10}
    doc = tariff_document((None, ("ENERGY", Decimal("-0.05"), 1, 25)), phaseyard={"components": [everybody]})
    answer = quote(doc, ("CHARGING", 60, 10))
    assert [line["dimension"] for line in answer["lines"]] == ["ENERGY"]
    assert answer["total_excl_vat"] == "-0.50"


def test_a_cap_comes_after_discounts(bill: Callable[..., Priced]) -> None:
    capped = bill(OFF, CAP)
    assert sum(line.cost.excl for line in capped.lines) == 8
    assert totals(capped)[0] == "8.00"
    assert [each for each in off(capped) if each[0] == "CAP"] == [
        ("CAP", 12, Fraction("-0.4")),
        ("CAP", 25, Fraction("-0.6")),
    ]
    assert off(bill({**CAP, "amount": 10})) == []
    lowest = bill(CAP, {**CAP, "amount": 5, "groups": ["bakery"]})
    assert totals(lowest)[0] == "5.00"
    assert off(bill({**CAP, "per": "MONTH"})) == [], "that is the ledger's"


def test_reductions_fall_where_their_lines_fall(bill: Callable[..., Priced]) -> None:
    """Cut in the middle: the fee and what is off it belong to the first half."""
    first, second = split(bill(OFF), [START + timedelta(hours=1)])
    assert (first.net.text(), second.net.text()) == ("6.30", "2.70")
