"""Needs by their service: who may tell them, when, and which car's they are."""

from dataclasses import replace
from datetime import time, timedelta
from typing import Any

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from csms.power.planner.need import MemberNeed, Source, Told
from csms.power.planner.needs_service import BEFORE_ITS_START, belongs
from csms.power.planner.repository import CarNeed
from tests.conftest import NOON
from tests.csms.yard import facts

NEED = MemberNeed(days=(5, 1), leaves_at=time(6), energy_wh=20_000)
FOR_IT = Told(source=Source.PERSON, energy_wh=8_000, departure=NOON + timedelta(hours=6))


async def test_a_members_need_is_kept_and_told_of(world: Any) -> None:
    needs = world.central.planning.needs
    changed: list[str] = []
    needs.changed = changed.append
    with pytest.raises(NotFound, match="need of member"):
        await needs.of_member("bakery")
    found = await needs.set_of_member("bakery", NEED)
    assert found.days == (1, 5)
    assert await needs.of_member("bakery") == found
    await needs.forget_of_member("bakery")
    for ask in (needs.of_member, needs.forget_of_member):
        with pytest.raises(NotFound):
            await ask("bakery")
    with pytest.raises(NotFound, match="member"):
        await needs.set_of_member("nobody", NEED)
    with pytest.raises(InvalidInput, match="days"):
        await needs.set_of_member("bakery", replace(NEED, days=()))
    assert changed == ["yard", "yard"]
    assert [fact.subject for fact in await facts(world.central.database, "need.")] == ["bakery", "bakery"]


async def test_a_need_of_one_charge_ends_with_it(world: Any) -> None:
    needs = world.central.planning.needs
    session = await world.plug_in("VAN-1", energy_wh=1_500)
    told = await needs.set_of_session(session.id, replace(FOR_IT, soc_percent=40.0, battery_wh=50_000))
    assert (told.source, told.at_wh) == (Source.PERSON, 1_500)
    assert await needs.of_session(session.id) == told
    await needs.forget_of_session(session.id)
    with pytest.raises(NotFound):
        await needs.of_session(session.id)
    with pytest.raises(InvalidInput, match="departure"):
        await needs.set_of_session(session.id, replace(FOR_IT, departure=NOON - timedelta(hours=1)))
    await world.unplug(session)
    with pytest.raises(Conflict, match="over"):
        await needs.set_of_session(session.id, FOR_IT)
    with pytest.raises(NotFound):
        await needs.set_of_session(session.id + 99, FOR_IT)


async def test_all_that_was_told_of_open_sessions(world: Any) -> None:
    needs = world.central.planning.needs
    await needs.set_of_member("bakery", NEED)
    van, visitor = await world.plug_in("VAN-1", "04B4KE"), await world.plug_in("VAN-2")
    assert van.member_id == "bakery"
    told = await needs.set_of_session(van.id, FOR_IT)
    car = CarNeed(
        station_id="VAN-2",
        evse=1,
        told_at=world.clock.now(),
        session_id=visitor.id,
        told=Told(source=Source.CAR, energy_wh=5_000),
    )
    await needs.car_told(car)
    found = await needs.of_sessions([van, visitor])
    assert found == {
        van.id: ((told,), replace(NEED, days=(1, 5))),
        visitor.id: ((car.told,), None),
    }


async def test_which_charge_a_cars_words_belong_to(world: Any) -> None:
    session = await world.plug_in("VAN-1")
    told = Told(source=Source.CAR, energy_wh=5_000)
    need = CarNeed(station_id="VAN-1", evse=1, told_at=session.arrived_at, session_id=None, told=told)
    assert belongs(need, session)
    assert belongs(replace(need, told_at=session.arrived_at - BEFORE_ITS_START), session)
    before = session.arrived_at - BEFORE_ITS_START - timedelta(seconds=1)
    assert not belongs(replace(need, told_at=before), session)
    assert not belongs(replace(need, evse=2), session)
    assert not belongs(replace(need, station_id="VAN-2"), session)
    assert not belongs(replace(need, session_id=session.id + 1), session)
    assert belongs(replace(need, session_id=session.id, told_at=before), session)
