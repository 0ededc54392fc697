"""Composite schedules over REST: ours, the station's, and where they differ."""

from typing import Any

import httpx
import pytest

from csms.app import Central
from csms.errors import StationOffline
from csms.stations.commands import CommandResult, CommandStatus, GetComposite, SetProfile
from csms.stations.model import (
    ChargingProfile,
    CompositeSchedule,
    ProfileKind,
    ProfilePeriod,
    ProfilePurpose,
    RateUnit,
)

URL = "/v1/stations/garage-1/composite"


@pytest.fixture(autouse=True)
async def station(manager: httpx.AsyncClient, central: Central, yard: dict[str, Any], answering: Any) -> None:
    await manager.post("/v1/stations", json={"id": "garage-1", "site_id": "weavers-yard"})
    limit = ChargingProfile(
        id=1,
        stack_level=0,
        purpose=ProfilePurpose.TX_DEFAULT,
        kind=ProfileKind.ABSOLUTE,
        periods=(ProfilePeriod(0, 6.0), ProfilePeriod(60, 10.0, 3)),
        start_at=central.clock.now(),
    )
    accepted = CommandResult(CommandStatus.ACCEPTED)
    central.composites.followed("garage-1", "1.6", SetProfile(1, limit), accepted)


def told(central: Central, *periods: tuple[int, float]) -> CommandResult:
    steps = tuple(ProfilePeriod(*each) for each in periods)
    schedule = CompositeSchedule(central.clock.now(), 120, RateUnit.AMPERE, steps)
    return CommandResult(CommandStatus.ACCEPTED, "Accepted", schedule)


async def test_what_differs_is_shown(manager: httpx.AsyncClient, central: Central, answering: Any) -> None:
    answering.answer = told(central, (0, 6.0), (60, 16.0))
    answer = await manager.post(URL, json={"evse": 1, "duration_s": 120})
    assert answer.status_code == 200
    found = answer.json()
    assert answering.asked == [("garage-1", GetComposite(1, 120))]
    steps = [(step["start_s"], step["limit"], step["phases"]) for step in found["ours"]["steps"]]
    assert steps == [(0, 6.0, None), (60, 10.0, 3)]
    assert [step["limit"] for step in found["theirs"]["steps"]] == [6.0, 16.0]
    assert found["differences"] == [{"from_s": 60, "to_s": 120, "ours": 10.0, "theirs": 16.0, "looser": True}]
    assert (found["status"], found["complete"]) == ("accepted", False)
    events = (await manager.get("/v1/events", params={"site": "weavers-yard"})).json()["items"]
    assert "station.schedule_differs" in {event["topic"] for event in events}


async def test_the_same_has_no_differences(
    manager: httpx.AsyncClient, central: Central, answering: Any
) -> None:
    answering.answer = told(central, (0, 6.0), (60, 10.0))
    found = (await manager.post(URL, json={"evse": 1, "duration_s": 120})).json()
    assert found["differences"] == []


async def test_who_may_not_ask_and_what_cannot_be_asked(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, answering: Any
) -> None:
    assert (await reader.post(URL, json={})).status_code == 403
    refused = await manager.post(URL, json={"duration_s": 0})
    assert (refused.status_code, refused.json()["field"]) == (422, "duration_s")
    assert (await manager.post("/v1/stations/nothing/composite", json={})).status_code == 404
    answering.answer = StationOffline("garage-1")
    assert (await manager.post(URL, json={})).status_code == 409
