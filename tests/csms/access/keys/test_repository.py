"""Rows of API keys, on both databases."""

from csms.access.keys import repository
from csms.access.keys.repository import ApiKey
from csms.access.people.principal import Role
from csms.clock import ManualClock
from csms.store.database import Database


async def test_a_key_is_found_by_its_hash_until_it_is_revoked(database: Database, clock: ManualClock) -> None:
    key = ApiKey("key_1", "bakery", Role.READER, False, clock.now(), None)
    async with database.write() as connection:
        assert await repository.add_key(connection, database.dialect, key, b"hash")
        assert not await repository.add_key(connection, database.dialect, key, b"other hash")
    async with database.read() as connection:
        assert await repository.find_key(connection, b"hash") == key
        assert await repository.find_key(connection, b"other hash") is None
    async with database.write() as connection:
        assert await repository.revoke_key(connection, "bakery")
        assert not await repository.revoke_key(connection, "flats")
    async with database.read() as connection:
        assert await repository.find_key(connection, b"hash") is None
        assert [each.revoked for each in await repository.list_keys(connection)] == [True]
