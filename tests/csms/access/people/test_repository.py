"""Rows of people and sign-ins, on both databases."""

from datetime import timedelta

from csms.access.people import repository
from csms.access.people.principal import Role
from csms.access.people.repository import Person
from csms.clock import ManualClock
from csms.store.database import Database


async def test_a_name_is_taken_once(database: Database, clock: ManualClock) -> None:
    olga = Person("olga", Role.MANAGER, clock.now())
    async with database.write() as connection:
        assert await repository.add_person(connection, database.dialect, olga, "hash")
        assert not await repository.add_person(connection, database.dialect, olga, "another")
    async with database.read() as connection:
        assert await repository.password_of(connection, "olga") == (olga, "hash")
        assert await repository.password_of(connection, "piet") is None
        assert await repository.list_people(connection) == (olga,)


async def test_a_sign_in_holds_until_it_has_run_out(database: Database, clock: ManualClock) -> None:
    olga = Person("olga", Role.READER, clock.now())
    ends = clock.now() + timedelta(hours=1)
    async with database.write() as connection:
        await repository.add_person(connection, database.dialect, olga, "hash")
        await repository.add_sign_in(connection, b"one", "olga", "form", clock.now(), ends)
    async with database.read() as connection:
        before = ends - timedelta(seconds=1)
        assert await repository.find_sign_in(connection, b"one", before) == (olga, "form", ends)
        assert await repository.find_sign_in(connection, b"one", ends) is None
        assert await repository.find_sign_in(connection, b"two", before) is None


async def test_removing_a_person_removes_their_sign_ins(database: Database, clock: ManualClock) -> None:
    ends = clock.now() + timedelta(hours=1)
    async with database.write() as connection:
        await repository.add_person(
            connection, database.dialect, Person("olga", Role.READER, clock.now()), "hash"
        )
        await repository.add_sign_in(connection, b"one", "olga", "form", clock.now(), ends)
        assert await repository.remove_person(connection, "olga")
        assert not await repository.remove_person(connection, "olga")
    async with database.read() as connection:
        assert await repository.find_sign_in(connection, b"one", clock.now()) is None
