"""What simulated stations make of our profiles, beside what we make of them: two readings of the standard."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from api.node import Node
from csms.clock import ManualClock
from csms.settings import load_settings
from tests.scenarios.garage import Garage, make_garage
from tests.scenarios.rest import Rest

pytestmark = [
    pytest.mark.parametrize("database_url", ["sqlite"], indirect=True),
    pytest.mark.timeout(240),
]
FIRST, LATER = "EAST-1", "WEST-1"
"""A station of OCPP 1.6 and one of 2.0.1, each with a car."""


@pytest.fixture
async def garage(database_url: str, tmp_path: Path, clock: ManualClock) -> AsyncIterator[Garage]:
    settings = load_settings(
        data_dir=tmp_path, database_url=database_url, host="127.0.0.1", http_port=0, ocpp_port=0
    )
    node = Node(settings, clock)
    await node.start()
    async with Rest(node.http_url, await node.central.keys.create("garage")) as rest:
        await make_garage(rest)
        made = Garage(clock, node.ocpp_url, rest)
        await made.on_line(FIRST, LATER)
        yield made
        await made.close()
    await node.stop()


async def test_a_station_that_forgot_its_limits_is_found_out(garage: Garage) -> None:
    for name in (FIRST, LATER):
        await garage.plug_in(name)
    await garage.pass_time(8)
    for name in (FIRST, LATER):
        asked = {"evse": 1, "duration_s": 900}
        found = await garage.rest.post(f"/stations/{name}/composite", asked)
        assert (found["status"], found["complete"]) == ("accepted", name == LATER)
        assert found["differences"] == [], found
        assert found["ours"]["steps"][0]["limit"] is not None

    garage.stations[FIRST].profiles.clear(profile_id=None, evse_id=None, purpose=None, stack_level=None)
    found = await garage.rest.post(f"/stations/{FIRST}/composite", {"evse": 1, "duration_s": 60})
    assert found["differences"], found
    assert all(each["looser"] for each in found["differences"])
    (fact,) = [
        event
        for event in (await garage.rest.get("/events?site=garage"))["items"]
        if event["topic"] == "station.schedule_differs"
    ]
    assert fact["subject"] == FIRST
