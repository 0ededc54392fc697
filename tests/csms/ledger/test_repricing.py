"""Prices out of what is stored: whole, cut, and completed."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.ledger.inputs import Cost
from csms.ledger.registers import Measured, SessionRow
from csms.ledger.repricing import Repricer
from csms.money import Currency
from csms.tariffs.market.series import MarketPrice, PriceSeries, PricesMissing
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.stored import StoredTariff

START = datetime(2026, 1, 31, 22, 0, tzinfo=UTC)
ZERO = int(START.timestamp())
RATE = Decimal(25)


def stored(**more: Any) -> StoredTariff:
    document: dict[str, Any] = {
        "currency": "NOK",
        "elements": [
            {
                "price_components": [
                    {"type": "ENERGY", "price": Decimal(1), "vat": 25, "step_size": 1},
                    {"type": "FLAT", "price": 5, "vat": 25, "step_size": 1},
                ]
            }
        ],
    } | more
    tariff = parse_tariff(document, "t")
    return StoredTariff(id="t", site_id="yard", name="T", document=document, tariff=tariff, created_at=START)


SPOT = {"phaseyard": {"components": [{"type": "SPOT", "feed": "no1"}]}}
HOURS = PriceSeries(
    feed_id="no1",
    currency=Currency("NOK"),
    prices=tuple(
        MarketPrice(
            start=START + timedelta(hours=n), end=START + timedelta(hours=n + 1), per_mwh=Decimal(1000 * n)
        )
        for n in range(4)
    ),
)
ROW = SessionRow(
    id=1,
    station_id="bay",
    evse=1,
    token_id=None,
    token_text="",
    member_id="a",
    known=True,
    started=ZERO,
    ended=ZERO + 7200,
    arrived=ZERO,
    register_start_wh=0,
    register_stop_wh=4000,
    energy_wh=4000,
    marked=False,
    tariff_id="t",
    cost_excl_minor=700,
    cost_incl_minor=875,
)
MEASURED = Measured(points=((ZERO, 0), (ZERO + 3600, 2000), (ZERO + 7200, 4000)), base_wh=0, end=ZERO + 7200)


def repricer(tariff: StoredTariff) -> Repricer:
    return Repricer(tariffs={"t": tariff}, market={"no1": HOURS}, zone=ZoneInfo("Europe/Oslo"))


def test_a_session_is_priced_by_what_is_stored() -> None:
    # 2 kWh at 0 and 2 kWh at 1.00, and the fee.
    assert repricer(stored(**SPOT)).minor(ROW, MEASURED) == (700, 875)
    assert repricer(stored()).minor(ROW, MEASURED) == (900, 1125)
    assert repricer(stored()).minor(replace(ROW, tariff_id=None), MEASURED) is None


def test_parts_are_priced_by_their_own_hours_and_the_fee_is_the_starts() -> None:
    parts = repricer(stored(**SPOT)).costs(ROW, MEASURED, [ZERO + 3600])
    assert parts == [(Cost(RATE, 500, 125),), (Cost(RATE, 200, 50),)]


def test_a_cent_that_whole_seconds_move_falls_to_the_last_part() -> None:
    row = replace(ROW, cost_excl_minor=701, cost_incl_minor=877)
    first, last = repricer(stored(**SPOT)).costs(row, MEASURED, [ZERO + 3600])
    assert first == (Cost(RATE, 500, 125),)
    assert last == (Cost(RATE, 201, 51),)


def test_completed_energy_is_priced_anew() -> None:
    more = replace(MEASURED, points=(*MEASURED.points[:-1], (ZERO + 7200, 5000)), extra_wh=1000)
    ((cost,),) = repricer(stored(**SPOT)).costs(ROW, more, [])
    assert cost == Cost(RATE, 800, 200)


def test_missing_market_prices_are_told() -> None:
    late = Measured(points=((ZERO, 0), (ZERO + 5 * 3600, 4000)), base_wh=0, end=ZERO + 5 * 3600)
    with pytest.raises(PricesMissing):
        repricer(stored(**SPOT)).minor(replace(ROW, ended=ZERO + 5 * 3600), late)


def test_a_whole_session_costs_what_it_was_priced_at_with_the_tariffs_rate() -> None:
    assert repricer(stored()).whole(ROW) == (Cost(RATE, 700, 175),)
    without = stored(elements=[{"price_components": [{"type": "ENERGY", "price": 1, "step_size": 1}]}])
    unknown = repricer(without)
    assert unknown.whole(replace(ROW, cost_incl_minor=None)) == (Cost(None, 700, 0),)
    assert unknown.rates("t") == {None}
    free = stored(
        elements=[{"price_components": [{"type": "ENERGY", "price": 1, "step_size": 1}]}], tax_included="N/A"
    )
    assert repricer(free).only_rate("t") == 0
    assert repricer(free).rate("gone", None) is None
