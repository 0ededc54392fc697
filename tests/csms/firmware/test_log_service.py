"""Logs: asked for, taken once, failed; on both databases."""

import pytest

from csms.clock import ManualClock
from csms.errors import InvalidInput, NotFound, StationOffline
from csms.firmware.log_service import StationLogs
from csms.stations.commands import CommandResult, CommandStatus
from csms.stations.words.firmware import GetLog, LogKind
from csms.store.fact import Fact
from tests.csms.firmware.conftest import Talkative, parts
from tests.csms.yard import BAY_1


async def test_a_log_is_asked_for_and_taken_once(
    logs: StationLogs, commands: Talkative, clock: ManualClock
) -> None:
    log = await logs.ask(BAY_1, LogKind.SECURITY, by="key:technician")
    ((_, command),) = commands.asked
    assert isinstance(command, GetLog)
    assert (command.request_id, command.kind) == (log.id, LogKind.SECURITY)
    assert command.location == f"http://yard/files/logs/{log.token}"
    taken = await logs.take(log.token, parts(b"line 1\nline 2\n"), "bay\x00-01.log")
    assert (taken.state, taken.size_bytes, taken.received_at) == ("received", 14, clock.now())
    assert (await logs.file(log.id)).read_bytes() == b"line 1\nline 2\n"
    with pytest.raises(NotFound):
        await logs.take(log.token, parts(b"again"))
    assert (await logs.list(BAY_1)).items == (taken,)


async def test_an_address_that_was_not_given_out_takes_nothing(logs: StationLogs) -> None:
    with pytest.raises(NotFound):
        await logs.take("guessed", parts(b"x"))


async def test_a_log_that_is_too_large_may_be_sent_again(logs: StationLogs) -> None:
    log = await logs.ask(BAY_1)
    with pytest.raises(InvalidInput, match="larger"):
        await logs.take(log.token, parts(b"x" * 2000))
    with pytest.raises(NotFound, match="file of log"):
        await logs.file(log.id)
    assert (await logs.take(log.token, parts(b"short"))).state == "received"


async def test_a_refusal_and_a_silence_are_kept(logs: StationLogs, commands: Talkative) -> None:
    commands.answers[GetLog] = lambda _s: CommandResult(CommandStatus.REJECTED, "not now")
    refused = await logs.ask(BAY_1)
    assert (refused.state, refused.detail) == ("refused", "not now")
    commands.answers[GetLog] = StationOffline
    with pytest.raises(StationOffline):
        await logs.ask(BAY_1)
    assert [log.state for log in (await logs.list(BAY_1)).items] == ["refused", "refused"]
    with pytest.raises(NotFound):
        await logs.list("moon")


async def test_what_the_station_tells_of_it_is_kept(logs: StationLogs, clock: ManualClock) -> None:
    log = await logs.ask(BAY_1)

    def told(state: str, number: int | None = None) -> Fact:
        body = {"told": {"state": state, "request_id": number}}
        return Fact(topic="station.log", at=clock.now(), subject=BAY_1, body=body)

    await logs.fact(1, told("uploading"))
    assert (await logs.get(log.id)).state == "uploading"
    await logs.fact(2, told("upload_failed", log.id + 1))
    assert (await logs.get(log.id)).state == "uploading", "that was of another"
    await logs.fact(3, told("upload_failed", log.id))
    assert ((await logs.get(log.id)).state, (await logs.get(log.id)).detail) == ("failed", "upload_failed")
    await logs.fact(4, told("uploading"))
    assert (await logs.get(log.id)).state == "failed"
