"""The quick price is the walk's price (`csms.tariffs.pricing`), to the cent, or there is none."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from csms.ledger.flat_price import flat_price
from csms.ledger.registers import Measured, SessionRow
from csms.ledger.repricing import Repricer
from csms.money import Currency
from csms.tariffs.market.series import MarketPrice, PriceSeries
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.stored import StoredTariff

ORIGIN = datetime(2026, 3, 28, 22, tzinfo=UTC)
ZERO = int(ORIGIN.timestamp())
SPOT: dict[str, Any] = {
    "type": "SPOT",
    "feed": "no1",
    "factor": Decimal("1.02"),
    "markup_per_kwh": Decimal("0.049"),
    "fees": [{"name": "Tax", "per_kwh": Decimal("0.0713")}],
}
ENERGY: dict[str, Any] = {"type": "ENERGY", "price": Decimal("2.5"), "vat": 25, "step_size": 1}
FLAT: dict[str, Any] = {"type": "FLAT", "price": 5, "vat": 25, "step_size": 1}


def document(
    *components: dict[str, Any], own: tuple[dict[str, Any], ...] = (), **more: Any
) -> dict[str, Any]:
    made: dict[str, Any] = {"currency": "NOK", "elements": [{"price_components": list(components)}]}
    return made | ({"phaseyard": {"components": list(own)}} if own else {}) | more


def series(prices: list[int], minutes: int = 15) -> PriceSeries:
    step = timedelta(minutes=minutes)
    return PriceSeries(
        feed_id="no1",
        currency=Currency("NOK"),
        prices=tuple(
            MarketPrice(
                start=ORIGIN + n * step, end=ORIGIN + (n + 1) * step, per_mwh=Decimal(price).scaleb(-2)
            )
            for n, price in enumerate(prices)
        ),
    )


def repricer(made: dict[str, Any], market: PriceSeries) -> Repricer:
    stored = StoredTariff(
        id="t",
        site_id="yard",
        name="T",
        document=made,
        tariff=parse_tariff(made, "t"),
        created_at=ORIGIN,
    )
    return Repricer(tariffs={"t": stored}, market={"no1": market}, zone=ZoneInfo("Europe/Oslo"))


def session(points: tuple[tuple[int, int], ...]) -> tuple[SessionRow, Measured]:
    end = points[-1][0]
    row = SessionRow(
        id=1,
        station_id="bay",
        evse=1,
        token_id=None,
        token_text="",
        member_id="a",
        known=True,
        started=points[0][0],
        ended=end,
        arrived=end,
        register_start_wh=0,
        register_stop_wh=points[-1][1],
        energy_wh=points[-1][1],
        marked=False,
        tariff_id="t",
    )
    return row, Measured(points=points, base_wh=0, end=end)


@settings(max_examples=40, deadline=None)
@given(
    prices=st.lists(st.integers(-50_000, 90_000), min_size=24, max_size=24),
    start=st.integers(0, 3600),
    steps=st.lists(st.tuples(st.integers(1, 2500), st.integers(0, 4000)), min_size=1, max_size=6),
    fee=st.booleans(),
)
def test_energy_at_the_markets_price_is_the_walks_price(
    prices: list[int], start: int, steps: list[tuple[int, int]], fee: bool
) -> None:
    points = [(ZERO + start, 0)]
    for seconds, wh in steps:
        points.append((points[-1][0] + seconds, points[-1][1] + wh))
    made = document(ENERGY, *([FLAT] if fee else []), own=(SPOT,))
    market = series(prices)
    flat = flat_price(parse_tariff(made, "t"), market)
    assert flat is not None
    row, measured = session(tuple(points))
    totals = repricer(made, market).priced(row, measured).totals
    assert totals.incl is not None
    assert flat.minor(measured.points) == (totals.excl.minor, totals.incl.minor)


def test_a_price_that_is_missing_is_none() -> None:
    flat = flat_price(parse_tariff(document(ENERGY, own=(SPOT,)), "t"), series([100, 100]))
    assert flat is not None
    assert flat.minor(((ZERO, 0), (ZERO + 1800, 900))) is not None
    assert flat.minor(((ZERO, 0), (ZERO + 1801, 9000))) is None
    assert flat.minor(((ZERO - 60, 0), (ZERO, 10))) is None
    assert flat.minor(((ZERO + 1800, 0), (ZERO + 2000, 10))) is None
    assert flat.minor(((ZERO - 60, 0), (ZERO, 0), (ZERO + 60, 10))) is not None


def test_a_fixed_price_with_or_without_vat() -> None:
    made = document(ENERGY, FLAT)
    flat = flat_price(parse_tariff(made, "t"), None)
    assert flat is not None
    assert flat.minor(((ZERO, 0), (ZERO + 60, 1234))) == (809, 1011)
    bare = document({key: value for key, value in ENERGY.items() if key != "vat"})
    unknown = flat_price(parse_tariff(bare, "t"), None)
    assert unknown is not None
    assert unknown.minor(((ZERO, 0), (ZERO + 60, 1000))) == (250, None)
    assert unknown.minor(()) == (0, 0)


@pytest.mark.parametrize(
    "made",
    [
        document(ENERGY, max_price={"excl_vat": 100}),
        document({**ENERGY, "step_size": 500}),
        document(ENERGY, {"type": "TIME", "price": 1, "vat": 25, "step_size": 60}),
        document(ENERGY, {**FLAT, "vat": 12}),
        document(FLAT),
        document(ENERGY, own=({"type": "DISCOUNT", "name": "Less", "percent": 10},)),
        document(ENERGY, own=({"type": "CAP", "name": "Cap", "amount": 10, "per": "SESSION"},)),
        document(ENERGY, own=(SPOT,)),
        {
            "currency": "NOK",
            "elements": [{"price_components": [ENERGY], "restrictions": {"start_time": "06:00"}}],
        },
    ],
)
def test_whatever_needs_the_walk_is_none(made: dict[str, Any]) -> None:
    assert flat_price(parse_tariff(made, "t"), None) is None
