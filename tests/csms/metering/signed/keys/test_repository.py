"""Rows of keys, on both databases."""

import pytest

from csms.clock import ManualClock
from csms.errors import NotFound
from csms.metering.signed.keys import repository
from csms.metering.signed.keys.meter_key import KeyState, MeterKey
from csms.store.database import Database
from tests.csms.metering.signed.meter import Meter


def key(clock: ManualClock, id: str, serial: str, state: KeyState = KeyState.UNCONFIRMED) -> MeterKey:
    return MeterKey(id=id, serial=serial, key=Meter().key, state=state, created_at=clock.now(), source="us")


async def test_keys_are_read_as_they_were_written(database: Database, clock: ManualClock) -> None:
    one, two = key(clock, "key_1", "A", KeyState.CONFIRMED), key(clock, "key_2", "B")
    async with database.write() as connection:
        for each in (one, two):
            await repository.insert_key(connection, each)
        assert await repository.get_key(connection, "key_1") == one
        assert await repository.find(connection, "B", two.key.fingerprint) == two
        assert await repository.find(connection, "A", two.key.fingerprint) is None
        assert await repository.of_serials(connection, {"A", "C"}) == {"A": [one], "C": []}
        assert await repository.of_serials(connection, ()) == {}
        confirmed = await repository.list_keys(connection, None, KeyState.CONFIRMED, after=None, limit=5)
        of_b = await repository.list_keys(connection, "B", None, after=None, limit=5)
        with pytest.raises(NotFound):
            await repository.get_key(connection, "key_9")
    assert (confirmed.items, of_b.items) == ((one,), (two,))


async def test_found_keys_are_kept_once_and_not_without_end(database: Database, clock: ManualClock) -> None:
    first = key(clock, "key_0", "A")
    async with database.write() as connection:
        for each in (first, first, *(key(clock, f"key_{n}", "A") for n in range(1, 5))):
            await repository.insert_found(connection, database.dialect, each, 3)
        kept = await repository.of_serials(connection, ["A"])
    assert {each.id for each in kept["A"]} == {"key_0", "key_1", "key_2"}
