"""What counts as a yes, and that every command can be written into the journal."""

import dataclasses
import json
from typing import get_args

import pytest

from csms.stations.commands import Command, CommandResult, CommandStatus, Trigger, TriggerKind
from csms.stations.encoding import plain


@pytest.mark.parametrize("status", list(CommandStatus))
def test_accepted_and_scheduled_are_a_yes(status: CommandStatus) -> None:
    assert CommandResult(status).accepted is (status.value in {"accepted", "scheduled"})


def test_every_command_is_frozen_and_has_a_name_that_the_journal_can_hold() -> None:
    for command in get_args(Command):
        assert isinstance(command, type)
        assert dataclasses.is_dataclass(command)
        assert len(command.__name__) <= 40
    with pytest.raises(dataclasses.FrozenInstanceError):
        Trigger(TriggerKind.STATUS).evse = 2  # type: ignore[misc]
    written = json.loads(json.dumps(plain(Trigger(TriggerKind.METERS, 1))))
    assert written == {"kind": "meters", "evse": 1, "custom": ""}
