"""What is kept of a station's security, on both databases."""

from csms.clock import ManualClock
from csms.stations.credentials import store_key
from csms.stations.security import repository
from csms.stations.security.profile import Profile, Standing
from csms.store.database import Database
from tests.csms.yard import BAY_1, build_yard


async def test_columns_are_written_one_by_one(database: Database, clock: ManualClock) -> None:
    await build_yard(database)
    async with database.write() as connection:
        assert await repository.state_of(connection, BAY_1) == repository.SecurityState()
        await repository.keep(connection, database.dialect, BAY_1, wanted=2, step="asked")
        await repository.keep(connection, database.dialect, BAY_1, in_use=1, changed_at=clock.now())
        state = await repository.state_of(connection, BAY_1)
    assert state.standing == Standing(Profile.KEY, Profile.KEY_OVER_TLS)
    assert (state.step, state.changed_at) == ("asked", clock.now())


async def test_a_key_that_waited_is_used_once(database: Database) -> None:
    await build_yard(database)
    key = store_key("spindle-and-shuttle", b"0123456789abcdef")
    async with database.write() as connection:
        await repository.keep(
            connection, database.dialect, BAY_1, next_key_salt=key.salt, next_key_hash=key.hash
        )
        assert (await repository.state_of(connection, BAY_1)).next_key == key
        assert await repository.use_next_key(connection, BAY_1, key)
        assert not await repository.use_next_key(connection, BAY_1, key)
        assert (await repository.state_of(connection, BAY_1)).next_key is None
