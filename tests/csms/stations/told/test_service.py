"""Reading what stations told."""

from datetime import UTC, datetime

import pytest

from csms.errors import NotFound
from csms.stations.told.handlers import ToldHandlers
from csms.stations.told.service import ToldService
from csms.stations.words.firmware import FirmwareReported, LogReported
from csms.store.database import Database

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)


async def test_it_comes_in_pages_the_latest_first(database: Database, bay: str) -> None:
    handlers, service = ToldHandlers(database), ToldService(database)
    for state in ("downloading", "downloaded", "installed"):
        await handlers.keep(bay, FirmwareReported(state, 7), NOW)
    await handlers.keep(bay, LogReported("uploaded"), NOW)
    first = await service.list_told(bay, "firmware", limit=2)
    assert [told.body["state"] for told in first.items] == ["installed", "downloaded"]
    rest = await service.list_told(bay, "firmware", limit=2, after=first.next)
    assert [told.body["state"] for told in rest.items] == ["downloading"]
    assert rest.next is None
    assert len((await service.list_told(bay)).items) == 4


async def test_there_is_no_such_station(database: Database) -> None:
    with pytest.raises(NotFound):
        await ToldService(database).list_told("nobody")
