"""Two sockets of one station, commands to stations that are there and not, decisions by people."""

import asyncio

import pytest

from csms.errors import StationOffline
from csms.stations.commands import CommandStatus, Reset
from csms.stations.model import Registration
from tests.csms.gateway.stage import Stage


async def test_the_newest_socket_wins_and_the_end_of_the_older_changes_nothing(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as older, stage.charger("BAY-01") as newer:
        assert await older.closed() == (4001, "a newer connection of this station")
        station, epoch, was_newest, reason = await stage.yard.lost_sockets.get()
        assert (station, epoch, was_newest, reason) == (
            "BAY-01",
            1,
            False,
            "a newer connection of this station",
        )
        assert stage.registry.station_ids == {"BAY-01"}
        await newer.call("Heartbeat", {})
        asked = asyncio.ensure_future(stage.registry.ask("BAY-01", Reset()))
        call_id, _ = await newer.expect_call("Reset")
        await newer.send(3, call_id, {"status": "Accepted"})
        assert (await asked).status is CommandStatus.ACCEPTED
        assert stage.registry.takeovers == 1
    assert (await stage.yard.lost_sockets.get())[1:3] == (2, True)
    assert "BAY-01" not in stage.registry


async def test_a_socket_whose_epoch_came_late_does_not_take_over(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage.yard.add("BAY-01")
    epochs = iter([2, 1])

    async def connected(*_: object) -> int:
        return next(epochs)

    monkeypatch.setattr(stage.yard, "connected", connected)
    async with stage.charger("BAY-01") as first, stage.charger("BAY-01") as second:
        assert (await second.closed())[0] == 4001
        await first.call("Heartbeat", {})
        link = stage.registry.link("BAY-01")
        assert link is not None
        assert link.epoch == 2


async def test_a_command_under_way_when_another_socket_takes_over_has_no_known_effect(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as older:
        asked = asyncio.ensure_future(stage.registry.ask("BAY-01", Reset(), asked_by="Ada"))
        await older.expect_call("Reset")
        async with stage.charger("BAY-01"):
            with pytest.raises(Exception, match="whether it acted is unknown"):
                await asked
    assert await stage.diary.entries.get() == (
        "cmd-1",
        "timed_out",
        "the connection ended before the answer",
    )


async def test_a_command_to_a_station_that_is_not_there(stage: Stage) -> None:
    with pytest.raises(StationOffline, match="BAY-01 is not connected"):
        await stage.registry.ask("BAY-01", Reset(), asked_by="Ada")
    assert stage.diary.commands == [("BAY-01", Reset(), "Ada")]
    assert (await stage.diary.entries.get())[:2] == ("cmd-1", "offline")


async def test_what_we_ask_of_ourselves_leaves_no_trace_when_nobody_is_there(stage: Stage) -> None:
    with pytest.raises(StationOffline):
        await stage.registry.ask("BAY-01", Reset())
    assert stage.diary.commands == []


async def test_an_accepted_station_that_waited_is_asked_to_boot(stage: Stage) -> None:
    stage.yard.add("BAY-01", Registration.PENDING)
    async with stage.charger("BAY-01") as charger:
        refused = await charger.call("Heartbeat", {})
        assert refused[2] == "SecurityError"
        await stage.registry.registration_changed("BAY-01", Registration.ACCEPTED)
        call_id, payload = await charger.expect_call("TriggerMessage")
        assert payload == {"requestedMessage": "BootNotification"}
        await charger.send(3, call_id, {"status": "Accepted"})
        boot = {"chargePointVendor": "Mill Works", "chargePointModel": "W1"}
        assert (await charger.call("BootNotification", boot))["status"] == "Accepted"
        assert "currentTime" in await charger.call("Heartbeat", {})


async def test_a_station_rejected_by_a_person_is_no_longer_served(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})
        await stage.registry.registration_changed("BAY-01", Registration.REJECTED)
        assert (await charger.call("Heartbeat", {}))[2] == "SecurityError"
        await stage.registry.registration_changed("BAY-99", Registration.REJECTED)


async def test_a_station_can_be_sent_away(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})
        stage.registry.disconnect("BAY-01", "the key was changed")
        stage.registry.disconnect("BAY-99", "nobody")
        assert await charger.closed() == (1008, "the key was changed")


async def test_followers_hear_of_every_command_that_was_answered(stage: Stage) -> None:
    heard: list[tuple[str, str, object, CommandStatus]] = []
    stage.registry.follow(
        lambda station_id, protocol, command, result: heard.append(
            (station_id, protocol, command, result.status)
        )
    )
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        await charger.call("Heartbeat", {})
        asked = asyncio.ensure_future(stage.registry.ask("BAY-01", Reset(), routine=True))
        call_id, _ = await charger.expect_call("Reset")
        await charger.send(3, call_id, {"status": "Rejected"})
        await asked
    assert heard == [("BAY-01", "1.6", Reset(), CommandStatus.REJECTED)]
    with pytest.raises(StationOffline):
        await stage.registry.ask("BAY-02", Reset())
    assert len(heard) == 1
