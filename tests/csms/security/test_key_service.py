"""A new key, and what happens half-way; on both databases."""

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, StationOffline, StationSilent
from csms.security.key_service import StationKeys
from csms.stations.commands import CommandResult, CommandStatus, SetVariables
from csms.stations.credentials import key_matches
from csms.stations.security import repository
from csms.stations.security.repository import SecurityState
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.store.database import Database
from tests.csms.security.conftest import Talkative
from tests.csms.yard import BAY_1, BAY_2


@pytest.fixture
def keys(yard: Database, clock: ManualClock, stations: StationsService, commands: Talkative) -> StationKeys:
    return StationKeys(yard, clock, stations, commands)


async def state(yard: Database) -> SecurityState:
    async with yard.read() as connection:
        return await repository.state_of(connection, BAY_1)


async def test_until_it_was_used_both_are_kept(
    keys: StationKeys, yard: Database, commands: Talkative, sockets: SocketsService, clock: ManualClock
) -> None:
    assert await keys.rotate(BAY_1, by="key:manager") == "accepted"
    (command,) = commands.asked
    assert isinstance(command, SetVariables)
    assert command.values[0].path == "SecurityCtrlr/BasicAuthPassword"
    waits = (await state(yard)).next_key
    assert waits is not None
    sent = command.values[0].value
    assert sent is not None
    assert key_matches(waits, sent.encode())
    await sockets.used_next_key(BAY_1, waits, clock.now())
    caller = await sockets.identify(BAY_1)
    assert caller is not None
    assert (caller.key, caller.next_key) == (waits, None)


async def test_refused_and_the_old_one_stays(keys: StationKeys, yard: Database, commands: Talkative) -> None:
    commands.answers[SetVariables] = lambda _c: CommandResult(CommandStatus.REJECTED, "too short")
    with pytest.raises(Conflict, match="too short"):
        await keys.rotate(BAY_1)
    kept = await state(yard)
    assert (kept.next_key, kept.step, kept.detail) == (None, "key_refused", "too short")


async def test_silent_and_both_are_right(keys: StationKeys, yard: Database, commands: Talkative) -> None:
    commands.answers[SetVariables] = lambda _c: StationSilent(BAY_1)
    assert await keys.rotate(BAY_1) == "unknown"
    assert (await state(yard)).next_key is not None


async def test_off_line_nothing_is_sent(keys: StationKeys, yard: Database, commands: Talkative) -> None:
    with pytest.raises(StationOffline):
        await keys.rotate(BAY_2)
    commands.answers[SetVariables] = lambda _c: StationOffline(BAY_1)
    with pytest.raises(StationOffline):
        await keys.rotate(BAY_1)
    assert (await state(yard)).next_key is None
