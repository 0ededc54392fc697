"""The life of a command: every pair of state and event."""

import itertools
from datetime import UTC, datetime

import pytest

from csms.errors import Conflict
from csms.stations.commands import CommandStatus
from csms.stations.journal.lifecycle import CommandEvent, CommandRecord, CommandState, follow, is_news

FOLLOWS = {
    ("asked", "answer"): "answered",
    ("asked", "silence"): "timed_out",
    ("asked", "no_connection"): "offline",
    ("timed_out", "answer"): "answered_late",
}


@pytest.mark.parametrize(("state", "event"), list(itertools.product(CommandState, CommandEvent)))
def test_every_pair(state: CommandState, event: CommandEvent) -> None:
    expected = FOLLOWS.get((state.value, event.value))
    if expected is None:
        with pytest.raises(Conflict, match=state.value):
            follow(state, event)
    else:
        assert follow(state, event).value == expected


@pytest.mark.parametrize(
    ("asked_by", "state", "status", "news"),
    [
        ("", CommandState.ANSWERED, CommandStatus.ACCEPTED, False),
        ("", CommandState.ANSWERED, CommandStatus.REJECTED, True),
        ("", CommandState.ANSWERED_LATE, CommandStatus.ACCEPTED, True),
        ("", CommandState.TIMED_OUT, None, True),
        ("ada", CommandState.ANSWERED, CommandStatus.ACCEPTED, True),
    ],
)
def test_what_is_asked_every_minute_is_no_news(
    asked_by: str, state: CommandState, status: CommandStatus | None, news: bool
) -> None:
    record = CommandRecord(
        id="cmd_1",
        station_id="BAY-01",
        kind="SetProfile",
        body={},
        asked_at=datetime(2026, 11, 2, tzinfo=UTC),
        asked_by=asked_by,
        state=state,
        status=status,
    )
    assert is_news(record) is news
