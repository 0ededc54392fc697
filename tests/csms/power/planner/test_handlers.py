"""A car tells its need through its charger: what we answer, and what is kept."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from csms.power.planner.need import Source, Told
from csms.sites.model import Sharing
from csms.stations.words.needs import NeedsAnswer, NeedsReported, NeedsVerdict
from tests.conftest import NOON

BY_SIX = NOON + timedelta(hours=18)
NEED = NeedsReported(
    evse=1, transfer="AC_three_phase", departure=BY_SIX, energy_wh=24_000, max_current_a=16.0
)


async def tell(world: Any, need: NeedsReported, station: str = "VAN-1") -> NeedsVerdict:
    answer = await world.central.dispatcher.ask(station, need, world.clock.now())
    assert isinstance(answer, NeedsAnswer)
    return answer.verdict


async def told(world: Any, session: Any) -> tuple[Told, ...]:
    found = await world.central.planning.needs.of_sessions([session])
    those: tuple[Told, ...] = found[session.id][0]
    return those


async def test_of_a_charge_that_runs_it_counts_from_now_on(world: Any) -> None:
    await world.central.power.start()
    session = await world.plug_in("VAN-1", energy_wh=1_500)
    assert await tell(world, NEED) is NeedsVerdict.ACCEPTED
    (found,) = await told(world, session)
    assert found == Told(source=Source.CAR, departure=BY_SIX, energy_wh=24_000, from_wh=1_500, at_wh=1_500)


async def test_before_its_transaction_it_is_kept_for_it(world: Any) -> None:
    await world.central.power.start()
    assert await tell(world, NEED) is NeedsVerdict.PROCESSING
    world.clock.advance(30)
    (found,) = await told(world, await world.plug_in("VAN-1"))
    assert (found.energy_wh, found.from_wh) == (24_000, 0)


async def test_a_battery_without_an_energy_is_to_be_full(world: Any) -> None:
    await world.central.power.start()
    session = await world.plug_in("VAN-1")
    need = NeedsReported(evse=1, transfer="DC", battery_wh=60_000, soc_percent=40, energy_wh=0)
    assert await tell(world, need) is NeedsVerdict.ACCEPTED
    (found,) = await told(world, session)
    assert (found.to_percent, found.energy_wh, found.battery_wh) == (100, None, 60_000)
    await tell(world, replace(need, to_percent=95))
    assert (await told(world, session))[0].to_percent == 95


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
async def test_it_is_refused_where_nothing_is_planned(world: Any) -> None:
    assert await tell(world, NEED) is NeedsVerdict.REJECTED, "the site is not steered yet"
    await world.central.power.start()
    assert await tell(world, replace(NEED, evse=0)) is NeedsVerdict.REJECTED
    assert await tell(world, NEED, "ELSEWHERE") is NeedsVerdict.REJECTED
    await world.central.sites.update_site("yard", strategy=Sharing.WEIGHTED)
    await world.central.power.stop()
    await world.central.power.start()
    assert await tell(world, NEED) is NeedsVerdict.REJECTED
