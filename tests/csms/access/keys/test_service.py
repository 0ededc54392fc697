"""Keys are made, recognised, noted as used and revoked."""

import re

import pytest
from sqlalchemy import select

from csms.access.keys.service import KeysService
from csms.access.people.principal import Principal, PrincipalKind, Role
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.store.tables.people import api_key


@pytest.fixture
def keys(database: Database, clock: ManualClock) -> KeysService:
    return KeysService(database, clock)


async def test_a_key_says_who_asks(keys: KeysService) -> None:
    secret = await keys.create("bakery", "reader")
    assert re.fullmatch(r"py_[0-9a-z]{32}", secret)
    assert await keys.check(secret) == Principal(PrincipalKind.KEY, "bakery", Role.READER)


@pytest.mark.parametrize("wrong", ["", "py_", "py_" + "0" * 32, "bakery", "py_\ud800"])
async def test_what_is_no_key_opens_nothing(keys: KeysService, wrong: str) -> None:
    await keys.create("bakery")
    assert await keys.check(wrong) is None


async def test_the_database_does_not_hold_the_key(keys: KeysService, database: Database) -> None:
    secret = await keys.create("bakery")
    async with database.read() as connection:
        row = (await connection.execute(select(api_key))).one()
    assert len(row.secret_hash) == 32
    assert all(secret not in str(value) for value in row)
    assert all(secret.encode() != value for value in row)


async def test_a_revoked_key_opens_nothing_and_its_name_stays_taken(keys: KeysService) -> None:
    secret = await keys.create("bakery")
    await keys.revoke("bakery")
    assert await keys.check(secret) is None
    with pytest.raises(Conflict):
        await keys.create("bakery")
    with pytest.raises(NotFound):
        await keys.revoke("flats")


async def test_its_use_is_noted_once_a_minute(
    keys: KeysService, clock: ManualClock, database: Database
) -> None:
    secret = await keys.create("bakery")
    commits = database.writer.commits
    begin = clock.now()
    for _ in range(3):
        await keys.check(secret)
        clock.advance(20)
    assert [key.last_used_at for key in await keys.list()] == [begin]
    assert database.writer.commits == commits + 1
    await keys.check(secret)
    assert [key.last_used_at for key in await keys.list()] == [clock.now()]


async def test_names_and_roles_are_checked(keys: KeysService) -> None:
    for name, role in (("", "manager"), ("bakery", "king")):
        with pytest.raises(InvalidInput):
            await keys.create(name, role)
    assert await keys.list() == ()
