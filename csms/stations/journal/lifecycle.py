"""The life of a command that was asked of a station: a table."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from csms.errors import Conflict
from csms.stations.commands import CommandStatus


class CommandState(StrEnum):
    """`TIMED_OUT`: sent, but whether the station acted is unknown. `OFFLINE`: never sent."""

    ASKED = "asked"
    ANSWERED = "answered"
    TIMED_OUT = "timed_out"
    OFFLINE = "offline"
    ANSWERED_LATE = "answered_late"


class CommandEvent(StrEnum):
    """`SILENCE`: no answer in time, or the connection or we ended before it."""

    ANSWER = "answer"
    SILENCE = "silence"
    NO_CONNECTION = "no_connection"


TRANSITIONS: Mapping[tuple[CommandState, CommandEvent], CommandState] = {
    (CommandState.ASKED, CommandEvent.ANSWER): CommandState.ANSWERED,
    (CommandState.ASKED, CommandEvent.SILENCE): CommandState.TIMED_OUT,
    (CommandState.ASKED, CommandEvent.NO_CONNECTION): CommandState.OFFLINE,
    (CommandState.TIMED_OUT, CommandEvent.ANSWER): CommandState.ANSWERED_LATE,
}


def follow(state: CommandState, event: CommandEvent) -> CommandState:
    """The state after `event`. Raises Conflict when it cannot follow."""
    following = TRANSITIONS.get((state, event))
    if following is None:
        raise Conflict(f"a command that is {state.value} takes no {event.value}")
    return following


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandRecord:
    """One command in the journal. `body` are its fields as JSON, `data` what the station sent back.

    `asked_by` names who asked; "" is Phaseyard itself.
    """

    id: str
    station_id: str
    kind: str
    body: Any
    asked_at: datetime
    asked_by: str = ""
    state: CommandState = CommandState.ASKED
    status: CommandStatus | None = None
    detail: str = ""
    data: Any = None
    answered_at: datetime | None = None


def is_news(record: CommandRecord) -> bool:
    """Whether the end of `record` is told to the rest: always, but for what we ask every minute.

    What Phaseyard itself asked and the station accepted in time is no news.
    """
    routine = record.state is CommandState.ANSWERED and record.status is CommandStatus.ACCEPTED
    return bool(record.asked_by) or not routine
