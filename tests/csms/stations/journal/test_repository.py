"""The SQL of the journal: what an insert refuses, what a status is found by."""

from datetime import timedelta

from csms.stations.commands import CommandStatus
from csms.stations.journal import repository
from csms.stations.journal.lifecycle import CommandRecord, CommandState
from csms.store.database import Database
from tests.conftest import NOON


def record(id: str, **changes: object) -> CommandRecord:
    fields: dict[str, object] = {
        "id": id,
        "station_id": "BAY-01",
        "kind": "Trigger",
        "body": {"kind": "status"},
        "asked_at": NOON,
    }
    return CommandRecord(**(fields | changes))  # type: ignore[arg-type]


async def test_a_record_comes_back_as_it_was_ended(database: Database, bay: str) -> None:
    ended = record(
        "cmd_1",
        state=CommandState.ANSWERED,
        status=CommandStatus.UNSUPPORTED,
        detail="NotImplemented",
        data=[{"path": "A", "value": None}],
        answered_at=NOON + timedelta(seconds=1),
    )
    async with database.write() as connection:
        assert await repository.insert_command(connection, record("cmd_1"))
        assert await repository.insert_command(connection, record("cmd_2"))
        assert not await repository.insert_command(connection, record("cmd_3", station_id="BAY-99"))
        await repository.end_command(connection, ended)
    async with database.read() as connection:
        assert await repository.find_command(connection, "cmd_1") == ended
        assert await repository.find_command(connection, "cmd_3") is None
        assert [each.id for each in await repository.open_commands(connection)] == ["cmd_2"]
        found = repository.last_with_status(connection, bay, "Trigger", CommandStatus.UNSUPPORTED)
        assert await found == NOON + timedelta(seconds=1)
        other = repository.last_with_status(connection, bay, "Trigger", CommandStatus.REJECTED)
        assert await other is None
        assert await repository.station_label(connection, bay) == ("weavers-yard", "Bay 1")
        assert await repository.station_label(connection, "BAY-99") == (None, "BAY-99")
