"""Eight cars on a small supply: no line above its limit, from the first plug on, whatever happens.

The limits are those of `garage`: 40 A of supply with 8 A of building leave 32 A, which is not the lowest
current (6 A, IEC 61851-1) for eight cars. What flows is measured at the simulated cars in every second.
"""

from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path

import pytest

from api.node import Node
from csms.clock import ManualClock
from csms.settings import load_settings
from tests.scenarios.garage import FALLBACKS_A, NAMES, Garage, make_garage
from tests.scenarios.rest import Rest

ON_SQLITE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""Enough here: that promises are kept in either database is tested with the controller."""
pytestmark = [ON_SQLITE, pytest.mark.timeout(240)]

REACTION_S = 5
"""A car follows a change of the pilot within 5 s (IEC 61851-1, from memory)."""
ON_THE_WAY_S = 3
"""The meter reads every 2 s, the server looks once a second, and the clock here goes in whole seconds."""
VALIDITY_S = 60
ROTATION_S = 300
STALE_S = 20


def make_node(database_url: str, folder: Path, clock: ManualClock, ocpp_port: int = 0) -> Node:
    settings = load_settings(
        data_dir=folder,
        database_url=database_url,
        host="127.0.0.1",
        http_port=0,
        ocpp_port=ocpp_port,
        offer_validity_s=VALIDITY_S,
        rotation_s=ROTATION_S,
        raise_delay_s=10,
        meter_stale_s=STALE_S,
    )
    return Node(settings, clock)


@pytest.fixture
async def node(database_url: str, tmp_path: Path, clock: ManualClock) -> AsyncIterator[Node]:
    made = make_node(database_url, tmp_path, clock)
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
async def garage(node: Node, clock: ManualClock) -> AsyncIterator[Garage]:
    async with Rest(node.http_url, await node.central.keys.create("garage")) as rest:
        await make_garage(rest)
        made = Garage(clock, node.ocpp_url, rest)
        await made.on_line()
        await made.pass_time(70)  # the building has been calm for a minute, so that cars can start at once
        yield made
        await made.close()


async def fill(garage: Garage) -> None:
    """A car comes to every bay, the next one when those before it draw what they may."""
    for name in NAMES:
        await garage.plug_in(name)
        await garage.pass_time(12)


async def test_eight_cars_never_pass_a_limit_and_those_that_wait_have_a_reason_and_get_their_turn(
    garage: Garage,
) -> None:
    await fill(garage)
    await garage.pass_time(60)
    assert garage.never_above() == {}
    bays = await garage.shown()
    waiting = {name for name, bay in bays.items() if bay["state"] == "waiting"}
    charging = {name for name, bay in bays.items() if bay["state"] == "charging"}
    assert waiting | charging == set(NAMES)
    assert waiting, "32 A are not six times 6 A on every line"
    assert len(charging) >= 5
    for name in waiting:
        why = bays[name]["why"]
        assert (why["kind"], garage.current_a(name)) == ("waiting", 0.0)
        assert why["circuit"] in ("garage-supply", "east", "west")
        assert why["line"] in ("L1", "L2", "L3")
        assert datetime.fromisoformat(bays[name]["waiting_since"]) < garage.clock.now()
    for name in charging:
        assert 6.0 <= garage.current_a(name) <= bays[name]["offer_a"] + 0.05
    # The supply is used: somebody's line is nearly full.
    assert max(garage.flows_a("garage-supply")) > 40.0 - 6.0

    turns: set[str] = set()

    def all_had_a_turn() -> bool:
        turns.update(name for name in waiting if garage.current_a(name) >= 6.0)
        return turns == waiting

    took_s = await garage.until(all_had_a_turn, 3 * ROTATION_S, "every waiting car gets its turn")
    assert took_s > ROTATION_S - 120  # and not before those that charge have had theirs
    assert garage.never_above() == {}


async def test_a_step_of_the_building_is_passed_on_to_the_cars_within_their_reaction(garage: Garage) -> None:
    await fill(garage)
    await garage.pass_time(40)
    assert garage.never_above() == {}
    garage.base_a = 20.0
    await garage.pass_time(30)
    supply = garage.excess["garage-supply"]
    assert supply.highest_a > 41.0, "the step was too small to see anything"
    assert supply.longest_s <= REACTION_S + ON_THE_WAY_S
    assert max(garage.flows_a("garage-supply")) <= 40.0
    seconds = supply.seconds
    garage.base_a = 8.0
    raised_s = await garage.until(lambda: garage.charging() >= 5, 2 * ROTATION_S, "cars get it back")
    assert raised_s > 10, "raised slowly"
    assert supply.seconds == seconds, "and only into what is free"
    assert set(garage.never_above()) == {"garage-supply"}


async def test_a_meter_that_falls_silent_means_the_worst_case(garage: Garage) -> None:
    """22 A of building at worst leave 18 A to the cars, whatever was measured last."""
    await fill(garage)
    await garage.pass_time(40)
    garage.meter_speaks = False
    await garage.pass_time(STALE_S + REACTION_S + ON_THE_WAY_S)
    garage.base_a = 22.0
    await garage.pass_time(60)
    assert garage.never_above() == {}


async def test_a_station_off_line_keeps_its_offer_until_that_lapses_and_the_others_take_it_then(
    garage: Garage,
) -> None:
    names = ("EAST-1", "WEST-2", "EAST-3")
    for name in names:
        await garage.plug_in(name)
    await garage.until(lambda: all(garage.current_a(name) > 6.5 for name in names), 120, "three cars charge")
    garage.cut("EAST-1", "WEST-2")
    before = {name: garage.current_a(name) for name in names}
    await garage.pass_time(VALIDITY_S // 3)
    # Nobody told them anything, and their offers have not ended.
    assert garage.current_a("EAST-1") == pytest.approx(before["EAST-1"], abs=0.2)
    await garage.pass_time(VALIDITY_S + REACTION_S)
    assert garage.current_a("EAST-1") <= FALLBACKS_A["EAST-1"] + 0.05
    assert garage.current_a("WEST-2") == 0.0
    assert garage.never_above() == {}
    # The one that is left takes what is free: more than its car can, which is 16 A.
    await garage.until(lambda: garage.current_a("EAST-3") > 15.9, 120, "the other takes the rest")
    assert (await garage.shown())["WEST-2"]["state"] == "unreachable"
    for name in ("WEST-1", "EAST-2"):
        await garage.plug_in(name)
    await garage.pass_time(60)
    garage.mend()
    await garage.until(
        lambda: garage.current_a("WEST-2") >= 6.0 and garage.current_a("EAST-1") >= 6.0,
        2 * ROTATION_S,
        "they charge by an offer again",
    )
    assert garage.never_above() == {}


async def test_when_the_server_is_gone_all_offers_lapse_to_fallbacks_that_fit(
    garage: Garage, node: Node, database_url: str, tmp_path: Path, clock: ManualClock
) -> None:
    """For the stations a dead server is a line on which nobody says anything any more."""
    await fill(garage)
    await garage.pass_time(60)
    garage.cut()
    garage.meter_speaks = False
    port = node.central.ocpp_port
    await node.stop()
    await garage.pass_time(VALIDITY_S + REACTION_S)
    for name in NAMES:
        assert garage.current_a(name) <= FALLBACKS_A.get(name, 0.0) + 0.05, name
    # Cars with a fallback go on with it, those that were held at 0 A when it went dark a little later: by
    # then all that had more have come down. Those without stay at 0 A.
    await garage.pass_time(2 * VALIDITY_S + 60)
    for name in NAMES:
        expected_a = FALLBACKS_A.get(name, 0.0)
        assert garage.current_a(name) == pytest.approx(expected_a, abs=0.05), name
    # The default that holds idle stations at 0 A ends by itself as well, after an hour; what lies
    # beneath it is the fallback, which is for good.
    garage.base_a = 22.0
    await garage.pass_time(3600, step_s=10)
    for name in NAMES:
        expected_a = FALLBACKS_A.get(name, 0.0)
        assert garage.current_a(name) == pytest.approx(expected_a, abs=0.05), name
    assert garage.never_above() == {}

    garage.base_a = 8.0
    again = make_node(database_url, tmp_path, clock, ocpp_port=port)
    await again.start()
    try:
        async with Rest(again.http_url, await again.central.keys.create("garage again")) as rest:
            garage.rest, garage.meter_speaks = rest, True
            await garage.pass_time(10)
            garage.mend()
            await garage.until(
                lambda: garage.charging() >= 4,
                300,
                "four cars charge again",
            )
            await garage.pass_time(60)
            bays = await garage.shown()
            assert {bay["state"] for bay in bays.values()} <= {"charging", "waiting"}
            garage.cut()
    finally:
        await again.stop()
    assert garage.never_above() == {}
