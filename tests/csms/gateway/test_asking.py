"""Our commands to a station over a real socket; the clock is moved by hand."""

import asyncio

import pytest

from csms.clock import ManualClock
from csms.errors import StationOffline, StationSilent
from csms.gateway.link import DEAF_AFTER
from csms.gateway.orders import StationBusy
from csms.ocpp import schemas
from csms.ocpp.rpc import InvalidOutbound
from csms.ocpp.version import Version
from csms.stations.commands import (
    ClearCache,
    CommandResult,
    CommandStatus,
    GetReport,
    Reset,
    StartCharging,
    Trigger,
    TriggerKind,
    Unlock,
)
from csms.stations.model import Registration, TokenRef
from tests.csms.gateway.stage import Charger, Stage

ACCEPTED = CommandResult(CommandStatus.ACCEPTED, "Accepted")


def ask(stage: Stage, command: object, **times: float) -> "asyncio.Future[CommandResult]":
    return asyncio.ensure_future(stage.registry.ask("BAY-01", command, asked_by="Ada", **times))  # type: ignore[arg-type]


async def answer(charger: Charger, action: str, status: str = "Accepted") -> None:
    call_id, _ = await charger.expect_call(action)
    await charger.send(3, call_id, {"status": status})


async def let_asleep(clock: ManualClock, seconds: float) -> None:
    """Move the clock when those who wait for it have gone to sleep."""
    for _ in range(20):
        await asyncio.sleep(0)
    clock.advance(seconds)


@pytest.mark.parametrize("version", [Version.OCPP16, Version.OCPP201])
async def test_a_command_is_journaled_sent_answered(stage: Stage, version: Version) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01", version) as charger:
        asked = ask(stage, Reset(hard=True))
        await answer(charger, "Reset")
        assert await asked == ACCEPTED
    assert stage.diary.commands == [("BAY-01", Reset(hard=True), "Ada")]
    assert await stage.diary.entries.get() == ("cmd-1", "answered", ACCEPTED)


async def test_what_is_routine_is_not_journaled(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        asked = asyncio.ensure_future(stage.registry.ask("BAY-01", Reset(), routine=True))
        await answer(charger, "Reset")
        assert await asked == ACCEPTED
    assert stage.diary.commands == []
    assert stage.diary.entries.empty()


async def test_a_refusal_by_error_is_a_result(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        asked = ask(stage, ClearCache())
        call_id, _ = await charger.expect_call("ClearCache")
        await charger.send(4, call_id, "NotImplemented", "never heard of it", {})
        assert await asked == CommandResult(CommandStatus.UNSUPPORTED, "NotImplemented: never heard of it")


async def test_commands_wait_for_each_other_and_deadlines_begin_with_the_sending(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        first = ask(stage, Reset(), timeout_s=30)
        call_id, _ = await charger.expect_call("Reset")
        second = ask(stage, ClearCache(), timeout_s=30)
        await let_asleep(stage.clock, 20)
        await charger.send(3, call_id, {"status": "Accepted"})
        assert await first == ACCEPTED
        await charger.expect_call("ClearCache")
        await let_asleep(stage.clock, 29)
        assert not second.done()
        await let_asleep(stage.clock, 1)
        with pytest.raises(StationSilent):
            await second


async def test_a_late_answer_is_written_as_an_answer_and_the_next_is_not_disturbed(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        first = ask(stage, Reset(), timeout_s=5)
        late_id, _ = await charger.expect_call("Reset")
        await let_asleep(stage.clock, 5)
        with pytest.raises(StationSilent, match="whether it acted is unknown"):
            await first
        second = ask(stage, ClearCache())
        call_id, _ = await charger.expect_call("ClearCache")
        await charger.send(3, late_id, {"status": "Rejected"})
        await charger.send(3, "nobody's", {"status": "Accepted"})
        await charger.send(3, late_id, {"status": "Accepted"})
        await charger.send(3, call_id, {"status": "Accepted"})
        assert await second == ACCEPTED
        link = stage.registry.link("BAY-01")
        assert link is not None
        counts = link.counts
        assert (counts.late_answers, counts.foreign_answers, counts.duplicate_answers) == (1, 1, 1)
    entries = [await stage.diary.entries.get() for _ in range(3)]
    assert [entry[:2] for entry in entries] == [
        ("cmd-1", "timed_out"),
        ("cmd-1", "answered"),
        ("cmd-2", "answered"),
    ]


async def test_a_command_whose_time_to_live_is_over_is_not_sent(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        first = ask(stage, Reset(), timeout_s=30)
        call_id, _ = await charger.expect_call("Reset")
        second = ask(stage, StartCharging(1, TokenRef("04AB"), 1), ttl_s=10)
        await let_asleep(stage.clock, 10)
        with pytest.raises(StationBusy):
            await second
        await charger.send(3, call_id, {"status": "Accepted"})
        assert await first == ACCEPTED
        third = ask(stage, ClearCache())
        await answer(charger, "ClearCache")
        assert await third == ACCEPTED
    assert (await stage.diary.entries.get())[:2] == ("cmd-2", "offline")


async def test_what_came_of_a_command_is_written_even_when_the_asker_lost_patience(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        asked = ask(stage, Reset())
        call_id, _ = await charger.expect_call("Reset")
        asked.cancel()
        await charger.send(3, call_id, {"status": "Accepted"})
        assert await stage.diary.entries.get() == ("cmd-1", "answered", ACCEPTED)


async def test_a_command_in_the_queue_of_a_socket_that_ends_was_not_sent(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        first, second = ask(stage, Reset()), ask(stage, ClearCache())
        await charger.expect_call("Reset")
    with pytest.raises(StationSilent):
        await first
    with pytest.raises(StationOffline) as offline:
        await second
    assert type(offline.value) is StationOffline


async def test_what_the_version_has_no_message_for_is_answered_by_us(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01"):
        result = await ask(stage, GetReport(1))
        assert result.status is CommandStatus.UNSUPPORTED
    assert (await stage.diary.entries.get())[1] == "answered"


async def test_a_station_that_waits_is_not_told_to_start(stage: Stage) -> None:
    stage.yard.add("BAY-01", Registration.PENDING)
    async with stage.charger("BAY-01"):
        result = await ask(stage, StartCharging(1, TokenRef("04AB"), 1))
        assert (result.status, result.detail) == (
            CommandStatus.REJECTED,
            "not sent: the station is not accepted yet",
        )


async def test_a_station_that_waits_may_say_what_it_was_asked_for(stage: Stage) -> None:
    status = {"connectorId": 1, "status": "Available", "errorCode": "NoError"}
    stage.yard.add("BAY-01", Registration.PENDING)
    async with stage.charger("BAY-01") as charger:
        assert (await charger.call("StatusNotification", status))[2] == "SecurityError"
        asked = ask(stage, Trigger(TriggerKind.STATUS))
        await answer(charger, "TriggerMessage")
        assert await asked == ACCEPTED
        assert await charger.call("StatusNotification", status) == {}
        assert (await charger.call("Heartbeat", {}))[2] == "SecurityError"


async def test_a_message_of_ours_that_would_break_the_standard_is_not_sent(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01"):
        monkeypatch.setattr(schemas, "valid", lambda *_: False)
        with pytest.raises(InvalidOutbound):
            await ask(stage, Unlock(1))
    assert (await stage.diary.entries.get())[:2] == ("cmd-1", "offline")


async def test_a_deaf_station_is_made_to_connect_anew(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    async with stage.charger("BAY-01") as charger:
        for _ in range(DEAF_AFTER):
            asked = ask(stage, Reset(), timeout_s=5)
            await charger.expect_call("Reset")
            assert "currentTime" in await charger.call("Heartbeat", {})
            await let_asleep(stage.clock, 5)
            with pytest.raises(StationSilent):
                await asked
        assert await charger.closed() == (4002, "commands are not answered")


async def test_a_station_is_asked_for_its_state_once_it_has_settled(stage: Stage) -> None:
    stage.yard.add("BAY-01")
    stage.yard.greetings = (Trigger(TriggerKind.STATUS),)
    async with stage.charger("BAY-01") as charger:
        await let_asleep(stage.clock, 1)
        boot = {"chargePointVendor": "Mill Works", "chargePointModel": "W1"}
        await charger.call("BootNotification", boot)
        await let_asleep(stage.clock, 2.5)
        assert stage.diary.commands == []
        await let_asleep(stage.clock, 0.5)
        await answer(charger, "TriggerMessage", "NotImplemented")
        assert (await stage.diary.entries.get())[1] == "answered"
        assert stage.diary.commands == [("BAY-01", Trigger(TriggerKind.STATUS), "")]
