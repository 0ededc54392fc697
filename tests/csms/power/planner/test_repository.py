"""Needs, prices and base loads come back as they were written, on both databases."""

from dataclasses import replace
from datetime import time, timedelta
from decimal import Decimal
from typing import Any

from csms.power.planner import repository
from csms.power.planner.forecast import BaseSample
from csms.power.planner.need import MemberNeed, Source, Told
from csms.power.planner.prices import PriceSlice
from csms.power.planner.repository import CarNeed
from tests.conftest import NOON

NEED = MemberNeed(days=(1, 3, 5), leaves_at=time(6, 30), energy_wh=20_000, to_percent=80, battery_wh=60_000)


async def test_a_members_need_is_replaced_and_dropped(world: Any) -> None:
    database = world.central.database
    async with database.write() as connection:
        await repository.put_member_need(connection, database.dialect, "bakery", NEED, NOON)
        other = replace(NEED, to_percent=None)
        assert await repository.get_member_needs(connection, ["bakery", "nobody"]) == {"bakery": NEED}
        await repository.put_member_need(connection, database.dialect, "bakery", other, NOON)
        assert await repository.get_member_needs(connection, ["bakery"]) == {"bakery": other}
        assert await repository.drop_member_need(connection, "bakery")
        assert not await repository.drop_member_need(connection, "bakery")


async def test_what_was_told_for_a_charge(world: Any) -> None:
    session = await world.plug_in("VAN-1")
    database = world.central.database
    person = Told(
        source=Source.PERSON,
        departure=NOON + timedelta(hours=3),
        energy_wh=9_000,
        to_percent=90,
        battery_wh=70_000,
        soc_percent=40.0,
        at_wh=500,
    )
    car = CarNeed(
        station_id="VAN-1",
        evse=1,
        told_at=NOON,
        session_id=session.id,
        told=replace(person, source=Source.CAR, from_wh=500),
    )
    async with database.write() as connection:
        await repository.put_session_need(connection, database.dialect, session.id, person, NOON)
        assert await repository.get_session_needs(connection, [session.id]) == {session.id: person}
        assert await repository.drop_session_need(connection, session.id)
        assert await repository.get_session_needs(connection, [session.id]) == {}
        await repository.put_car_need(connection, database.dialect, replace(car, session_id=None))
        await repository.put_car_need(connection, database.dialect, car)
        assert await repository.get_car_needs(connection, ["VAN-1", "VAN-2"]) == [car]


async def test_prices_are_exact_and_found_by_the_hour(world: Any) -> None:
    hour = timedelta(hours=1)
    slices = [
        PriceSlice(NOON, NOON + hour, Decimal("0.123456")),
        PriceSlice(NOON + hour, NOON + 2 * hour, Decimal("-0.05")),
    ]
    async with world.central.database.write() as connection:
        await repository.replace_prices(connection, "yard", "NOK", slices)
        found = await repository.get_prices(connection, "yard")
        assert found is not None
        assert (found.currency, list(found.slices)) == ("NOK", slices)
        later = await repository.get_prices(connection, "yard", NOON + hour, NOON + 3 * hour)
        assert later is not None
        assert list(later.slices) == slices[1:]
        assert await repository.get_prices(connection, "yard", NOON - hour, NOON) is None
        await repository.replace_prices(connection, "yard", "NOK", [])
        assert await repository.get_prices(connection, "yard") is None


async def test_base_loads_are_written_once(world: Any) -> None:
    database = world.central.database
    sample = BaseSample("main", NOON, (10.5, 0.0, 3.001))
    again = replace(sample, line_a=(1.0, 1.0, 1.0))
    async with database.write() as connection:
        await repository.put_base(connection, database.dialect, [sample])
        await repository.put_base(connection, database.dialect, [again])
        await repository.put_base(connection, database.dialect, [])
        assert await repository.get_base(connection, ["main"], NOON) == [sample]
        assert await repository.get_base(connection, ["main"], NOON + timedelta(seconds=1)) == []
        await repository.drop_base(connection, NOON + timedelta(seconds=1))
        assert await repository.get_base(connection, ["main"], NOON) == []
