"""The rows of what stations told."""

from datetime import UTC, datetime

from csms.stations.told import repository
from csms.store.database import Database

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)


async def test_a_row_comes_back_as_it_was_and_goes_with_its_station(database: Database, bay: str) -> None:
    body = {"deep": [{"er": 1.5}], "text": "Molenwiek \u00e9"}
    async with database.write() as connection:
        for number in (2**40, None):
            await repository.insert_told(
                connection, bay, kind="limit", at=NOW, evse=number, request_id=number, body=body
            )
    async with database.read() as connection:
        page = await repository.list_told(connection, bay, kind=None, request_id=2**40, after=None, limit=10)
    (told,) = page.items
    assert (told.station_id, told.kind, told.at, told.evse, told.request_id, told.body) == (
        bay,
        "limit",
        NOW,
        2**40,
        2**40,
        body,
    )
    async with database.write() as connection:
        await repository.drop_oldest(connection, bay, "limit", 1)
        left = await repository.list_told(connection, bay, kind="limit", request_id=None, after=None, limit=9)
    assert [told.evse for told in left.items] == [None]
