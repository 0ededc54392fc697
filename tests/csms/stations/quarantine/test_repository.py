"""The SQL of the quarantine: dropping what is oldest."""

import pytest

from csms.stations.quarantine import repository
from csms.store.database import Database
from tests.conftest import NOON


@pytest.mark.parametrize(("keep", "left"), [(1, [b"2"]), (2, [b"2", b"1"]), (9, [b"2", b"1", b"0"])])
async def test_only_so_many_stay(database: Database, keep: int, left: list[bytes]) -> None:
    async with database.write() as connection:
        for number in range(3):
            await repository.insert_frame(
                connection, "BAY-01", frame=b"%d" % number, reason="not JSON", at=NOON
            )
        await repository.drop_oldest(connection, "BAY-01", keep)
        await repository.drop_oldest(connection, "BAY-99", keep)
        page = await repository.list_frames(connection, "BAY-01", after=None, limit=10)
    assert [frame.frame for frame in page.items] == left
