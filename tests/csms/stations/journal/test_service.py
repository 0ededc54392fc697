"""The journal of commands, on both databases."""

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from csms.clock import ManualClock
from csms.errors import Conflict, NotFound
from csms.stations.commands import (
    CommandResult,
    CommandStatus,
    Reset,
    SendVendorMessage,
    SetVariables,
    Unlock,
)
from csms.stations.journal.lifecycle import CommandRecord, CommandState
from csms.stations.journal.service import CommandJournal
from csms.stations.model import VariableValue
from tests.conftest import NOON

Facts = Callable[[str], Awaitable[list[dict[str, Any]]]]


async def test_a_command_is_asked_and_answered(
    journal: CommandJournal, bay: str, clock: ManualClock, facts: Facts
) -> None:
    asked = await journal.asked(bay, Reset(hard=True), asked_by="ada")
    assert await journal.get_command(asked) == CommandRecord(
        id=asked,
        station_id=bay,
        kind="Reset",
        body={"hard": True, "evse": None, "resume": False},
        asked_at=NOON,
        asked_by="ada",
    )
    assert await facts("command.") == []
    clock.advance(3)
    answered = await journal.answered(asked, CommandResult(CommandStatus.SCHEDULED, "Scheduled\0"))
    assert (answered.state, answered.status, answered.detail) == (
        CommandState.ANSWERED,
        CommandStatus.SCHEDULED,
        "Scheduled",
    )
    assert answered.answered_at == clock.now()
    assert await journal.get_command(asked) == answered
    assert await facts("command.") == [
        {
            "topic": "command.done",
            "subject": bay,
            "site_id": "weavers-yard",
            "station": "Bay 1",
            "command": "Reset",
            "command_id": asked,
            "state": "answered",
            "status": "scheduled",
            "detail": "Scheduled",
            "asked_by": "ada",
        }
    ]


async def test_an_answer_after_the_time_out_is_a_late_one(
    journal: CommandJournal, bay: str, facts: Facts
) -> None:
    asked = await journal.asked(bay, Unlock(1), asked_by="ada")
    assert (await journal.timed_out(asked, "30 s")).state is CommandState.TIMED_OUT
    late = await journal.answered(asked, CommandResult(CommandStatus.ACCEPTED, "Unlocked"))
    assert late.state is CommandState.ANSWERED_LATE
    with pytest.raises(Conflict, match="answered_late"):
        await journal.answered(asked, CommandResult(CommandStatus.FAILED))
    assert [fact["state"] for fact in await facts("command.")] == ["timed_out", "answered_late"]


async def test_a_command_to_nobody_was_never_sent(journal: CommandJournal, bay: str) -> None:
    asked = await journal.asked(bay, Unlock(1))
    assert (await journal.offline(asked, "not connected")).state is CommandState.OFFLINE
    with pytest.raises(Conflict, match="offline"):
        await journal.timed_out(asked)
    with pytest.raises(NotFound, match="station BAY-99"):
        await journal.asked("BAY-99", Unlock(1))
    for ask in (journal.get_command("cmd_0"), journal.timed_out("cmd_0")):
        with pytest.raises(NotFound, match="command cmd_0"):
            await ask


async def test_what_was_asked_for_comes_back_as_json(journal: CommandJournal, bay: str) -> None:
    asked = await journal.asked(bay, SendVendorMessage("Loomworks", "ping"))
    answered = await journal.answered(asked, CommandResult(CommandStatus.ACCEPTED, data="pong\0"))
    assert answered.data == "pong"
    secret = SetVariables((VariableValue("AuthorizationKey", "0011"),))
    asked = await journal.asked(bay, secret)
    assert (await journal.get_command(asked)).body["values"][0]["value"] == "***"


async def test_the_latest_command_comes_first(journal: CommandJournal, bay: str, clock: ManualClock) -> None:
    ids = []
    for number in range(5):
        ids.append(await journal.asked(bay, Unlock(number)))
        clock.advance(0.01)
    first = await journal.list_commands(bay, limit=3)
    rest = await journal.list_commands(bay, after=first.next, limit=3)
    assert [record.id for record in (*first.items, *rest.items)] == ids[::-1]
    assert rest.next is None
    assert (await journal.list_commands("BAY-99")).items == ()


async def test_after_a_restart_nothing_stays_asked(journal: CommandJournal, bay: str) -> None:
    asked = await journal.asked(bay, Unlock(1))
    done = await journal.asked(bay, Unlock(2))
    await journal.answered(done, CommandResult(CommandStatus.ACCEPTED))
    assert await journal.give_up_open() == 1
    assert await journal.give_up_open() == 0
    record = await journal.get_command(asked)
    assert (record.state, record.detail) == (
        CommandState.TIMED_OUT,
        "Phaseyard was restarted before the answer",
    )


async def test_who_refuses_triggers_is_remembered_by_the_answer_only(
    journal: CommandJournal, bay: str
) -> None:
    asked = await journal.asked(bay, Unlock(1))
    await journal.answered(asked, CommandResult(CommandStatus.UNSUPPORTED))
    assert not await journal.refuses_triggers(bay)
