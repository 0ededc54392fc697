"""The whole opening on 24 stations over real sockets, against a central system that only knows who may
charge."""

import asyncio
from datetime import timedelta
from random import Random

import pytest

from tools.simulator.building import BuildingLoad
from tools.simulator.clock import RunningClock
from tools.simulator.fleet import run_all
from tools.weavers_yard.play import Player, board_currents_a, make_stations, supply_currents_a
from tools.weavers_yard.scenario import opening
from tools.weavers_yard.site import WEAVERS_YARD


async def test_the_opening_charges_13_cars_and_refuses_three(house_url: str) -> None:
    clock = RunningClock(factor=30)
    stations = make_stations(WEAVERS_YARD, clock=clock, url=house_url)
    visits = opening(clock.now() + timedelta(seconds=60), Random(1))
    player = Player(stations, clock)
    tasks = [asyncio.ensure_future(run_all(stations)), asyncio.ensure_future(player.play(visits))]
    try:
        async with asyncio.timeout(30):
            while (
                len(player.verdicts) < len(visits) or sum(s.bays[0].evse.power_w > 0 for s in stations) < 13
            ):
                assert not any(task.done() for task in tasks)
                await clock.sleep(3)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    verdicts = dict(player.verdicts)
    assert sum(verdict == "Accepted" for verdict in verdicts.values()) == 13
    assert sorted(verdict for verdict in verdicts.values() if verdict != "Accepted") == [
        "Blocked",
        "Invalid",
        "Invalid",
    ]
    assert player.turned_away == []
    # nobody shares the supply here, so the lines carry more than the supply has: what Phaseyard is for
    load = BuildingLoad(starts_at=clock.now(), interval_s=900, power_w=(3 * 230 * 10 * 0.95,))
    cars = [board_currents_a(WEAVERS_YARD, stations, circuit.name) for circuit in WEAVERS_YARD.circuits]
    total = supply_currents_a(WEAVERS_YARD, stations, load, clock.now())
    for line in range(3):
        supply, court, mill = (currents[line] for currents in cars)
        assert supply > WEAVERS_YARD.circuits[0].limit_a
        assert mill == pytest.approx(3 * 16, abs=0.01)  # three vans of 16 A per line
        assert supply == pytest.approx(court + mill)
        assert total[line] == pytest.approx(supply + 10)
