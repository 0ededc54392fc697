"""A session that follows the market: a line per interval, fees on all of it, nothing guessed.

Prices are those of the day-ahead document in tests/published, kept here by hand.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from csms.errors import InvalidInput
from csms.money import Currency
from csms.tariffs.bill import Line, Priced
from csms.tariffs.curve import Curve, Segment, SegmentKind
from csms.tariffs.market.series import Market, MarketPrice, PriceSeries, PricesMissing
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.parts import split
from csms.tariffs.pricing import price

Make = Callable[..., dict[str, object]]
MIDNIGHT = datetime(2026, 1, 14, 23, tzinfo=UTC)
QUARTER = timedelta(minutes=15)
PER_MWH = ("80.00", "75.10", "75.10", "75.10", "-1.20", "-1.20")
SPOT = {"type": "SPOT", "feed": "mill", "markup_per_kwh": Decimal("0.02")}
FEE = {"name": "Grid", "per_kwh": Decimal("0.07")}


def market(*per_mwh: str, currency: str = "EUR", start: datetime = MIDNIGHT) -> Market:
    prices = tuple(
        MarketPrice(
            start=start + i * QUARTER,
            end=start + (i + 1) * QUARTER,
            per_mwh=Decimal(price),
            document_id="doc-1",
            revision=2,
        )
        for i, price in enumerate(per_mwh or PER_MWH)
    )
    return {"mill": PriceSeries(feed_id="mill", currency=Currency(currency), prices=prices)}


@pytest.fixture
def bill(tariff_document: Make) -> Callable[..., Priced]:
    def made(
        *segments: tuple[SegmentKind, int, int],
        component: dict[str, object] = SPOT,
        known: Market | None = None,
        start: datetime = MIDNIGHT,
        elements: tuple[Any, ...] = ((None, ("ENERGY", Decimal("0.30"), 1, 25)),),
    ) -> Priced:
        doc = tariff_document(*elements, phaseyard={"components": [component]})
        listed = [
            Segment(kind=kind, duration_s=Fraction(minutes * 60), energy_wh=Fraction(wh))
            for kind, minutes, wh in segments
        ]
        curve = Curve(start=start, zone=ZoneInfo("Europe/Brussels"), segments=tuple(listed))
        return price(parse_tariff(doc), curve, market() if known is None else known)

    return made


def brief(lines: tuple[Line, ...]) -> list[tuple[str, str, str]]:
    return [(line.word, str(float(line.quantity)), str(float(line.price))) for line in lines]


def test_a_line_per_interval_and_the_mark_up_on_all(bill: Callable[..., Priced]) -> None:
    """90 minutes at 4 kW: 1 kWh in each quarter, of which two are credited."""
    priced = bill((SegmentKind.CHARGING, 90, 6000))
    assert brief(priced.lines) == [
        ("SPOT", "1.0", "0.08"),
        ("SPOT_MARKUP", "6.0", "0.02"),
        ("SPOT", "1.0", "0.0751"),
        ("SPOT", "1.0", "0.0751"),
        ("SPOT", "1.0", "0.0751"),
        ("SPOT", "-1.0", "0.0012"),
        ("SPOT", "-1.0", "0.0012"),
    ]
    # 80.00 + 3 x 75.10 - 2 x 1.20 = 302.90 per MWh, and six times two cents.
    assert sum(line.cost.excl for line in priced.lines) == Fraction("0.3029") + Fraction("0.12")
    assert (str(priced.totals.excl), str(priced.totals.incl)) == ("0.42 EUR", "0.53 EUR")
    last = priced.lines[-1]
    assert last.followed is not None
    assert (last.followed.price.document_id, last.followed.price.revision) == ("doc-1", 2)
    assert last.reason == (
        "elements[0] is the first with ENERGY that applies, without conditions; the market's price from "
        "2026-01-15T00:15:00Z to 2026-01-15T00:30:00Z is -1.20 EUR per MWh by document doc-1, revision 2; "
        "below zero, so it is credited"
    )


def test_factor_and_fees(bill: Callable[..., Priced]) -> None:
    component = {"type": "SPOT", "feed": "mill", "factor": Decimal("1.1"), "fees": [FEE]}
    priced = bill((SegmentKind.CHARGING, 15, 500), component=component)
    assert brief(priced.lines) == [("SPOT", "0.5", "0.088"), ("SPOT_FEE", "0.5", "0.07")]
    assert priced.lines[1].name == "Grid"
    assert priced.lines[1].reason == "fee 'Grid' on the 0.5 kWh that follow the market by elements[0]"
    assert ", times 1.1" in priced.lines[0].reason


def test_restrictions_hold_for_the_market_too(bill: Callable[..., Priced]) -> None:
    """The first kWh at a fixed price, then the market: 00:15 local is where the first kWh ends."""
    elements = (
        ({"max_kwh": 1}, ("ENERGY", Decimal("0.10"), 100, 25)),
        (None, ("ENERGY", Decimal("0.30"), 1, 25)),
    )
    component = {"type": "SPOT", "feed": "mill", "elements": [1]}
    priced = bill((SegmentKind.CHARGING, 30, 2000), component=component, elements=elements)
    assert brief(priced.lines) == [("ENERGY", "1.0", "0.1"), ("SPOT", "1.0", "0.0751")]
    assert [(over.element, over.because) for over in priced.lines[1].passed_over] == [(0, "below 1 kWh")]


def test_a_missing_price_is_told_and_not_guessed(bill: Callable[..., Priced]) -> None:
    with pytest.raises(PricesMissing) as caught:
        bill((SegmentKind.CHARGING, 120, 8000))
    assert str(caught.value) == (
        "waiting for the market's prices of mill from 2026-01-15T00:30:00Z to 2026-01-15T01:00:00Z"
    )
    with pytest.raises(PricesMissing, match="mill from 2026-01-14T23:00:00Z to 2026-01-14T23:15:00Z"):
        bill((SegmentKind.CHARGING, 15, 100), known={})


def test_where_nothing_is_drawn_no_price_is_missed(bill: Callable[..., Priced]) -> None:
    priced = bill((SegmentKind.CHARGING, 15, 1000), (SegmentKind.PARKING, 600, 0))
    assert brief(priced.lines)[0] == ("SPOT", "1.0", "0.08")


def test_the_feed_s_currency_is_the_tariff_s(bill: Callable[..., Priced]) -> None:
    with pytest.raises(InvalidInput, match="currency: is EUR, but feed mill is in SEK"):
        bill((SegmentKind.CHARGING, 15, 1000), known=market(currency="SEK"))


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    per_mwh=st.lists(st.integers(-9999, 30_000), min_size=104, max_size=104),
    drawn=st.lists(st.integers(0, 9000), min_size=1, max_size=5),
    cuts=st.lists(st.integers(0, 1500), max_size=4),
    day=st.sampled_from([datetime(2026, 3, 28, 23, tzinfo=UTC), datetime(2026, 10, 24, 22, tzinfo=UTC)]),
)
def test_intervals_sum_to_the_session(
    bill: Callable[..., Priced],
    per_mwh: list[int],
    drawn: list[int],
    cuts: list[int],
    day: datetime,
) -> None:
    """Days of 92 and 100 quarters: energy and money are those of a sum by hand, and parts sum to both."""
    known = market(*(f"{price / 100:.2f}" for price in per_mwh), start=day)
    segments = [(SegmentKind.CHARGING, 300, wh) for wh in drawn]
    priced = bill(*segments, known=known, start=day)
    spot = [line for line in priced.lines if line.word == "SPOT"]
    assert sum(abs(line.quantity) for line in spot) == Fraction(sum(drawn), 1000)
    assert all(line.price >= 0 for line in priced.lines)
    by_hand = sum(
        Fraction(drawn[minute // 300], 300_000) * Fraction(per_mwh[minute // 15], 100_000)
        for minute in range(300 * len(drawn))
    )
    assert sum(line.cost.excl for line in spot) == by_hand
    parts = split(priced, [day + timedelta(minutes=minute) for minute in cuts])
    assert sum(part.net.minor for part in parts) == priced.totals.excl.minor
    assert sum(s.quantity for part in parts for s in part.lines if s.line.word == "SPOT") == sum(
        line.quantity for line in spot
    )
