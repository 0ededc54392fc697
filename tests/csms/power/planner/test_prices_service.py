"""Prices by site: what was put counts before what other sources know."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from csms.errors import InvalidInput, NotFound
from csms.power.planner.prices import Prices, PriceSlice
from csms.power.planner.prices_service import BY_REST
from tests.conftest import NOON

HOUR = timedelta(hours=1)
FIRST = PriceSlice(NOON, NOON + HOUR, Decimal("1.20"))
SECOND = PriceSlice(NOON + HOUR, NOON + 2 * HOUR, Decimal("0.80"))


async def test_they_are_put_replaced_and_taken_back(world: Any) -> None:
    prices = world.central.planning.prices
    changed: list[str] = []
    prices.changed = changed.append
    with pytest.raises(NotFound, match="prices of site"):
        await prices.get("yard")
    await prices.replace("yard", "NOK", [SECOND, FIRST])
    assert (await prices.get("yard")).slices == (FIRST, SECOND)
    await prices.replace("yard", "NOK", [FIRST])
    assert (await prices.get("yard")).slices == (FIRST,)
    await prices.forget("yard")
    with pytest.raises(NotFound):
        await prices.forget("yard")
    with pytest.raises(NotFound, match="site"):
        await prices.replace("moon", "NOK", [FIRST])
    assert changed == ["yard"] * 3


async def test_they_are_in_the_sites_currency_and_without_gaps(world: Any) -> None:
    prices = world.central.planning.prices
    with pytest.raises(InvalidInput, match="currency: must be the site's, NOK"):
        await prices.replace("yard", "EUR", [FIRST])
    with pytest.raises(InvalidInput, match=r"prices\[1\].start"):
        await prices.replace("yard", "NOK", [FIRST, PriceSlice(NOON, NOON + 2 * HOUR, Decimal(1))])


async def test_another_source_is_asked_where_nothing_was_put(world: Any) -> None:
    prices = world.central.planning.prices
    asked: list[tuple[str, datetime, datetime]] = []

    async def nothing(site_id: str, start: datetime, end: datetime) -> Prices | None:
        return None

    async def market(site_id: str, start: datetime, end: datetime) -> Prices | None:
        asked.append((site_id, start, end))
        return Prices("NOK", (SECOND,), "a market")

    prices.add_source(nothing)
    prices.add_source(market)
    found = await prices.over("yard", NOON, NOON + HOUR)
    assert found.source == "a market"
    assert asked == [("yard", NOON, NOON + HOUR)]
    await prices.replace("yard", "NOK", [FIRST])
    found = await prices.over("yard", NOON, NOON + HOUR)
    assert (found.source, found.slices) == (BY_REST, (FIRST,))
    assert (await prices.over("yard", NOON + HOUR, NOON + 2 * HOUR)).source == "a market"
