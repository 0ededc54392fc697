"""People sign in, are remembered, are slowed down and signed out."""

import re

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select

from csms.access.people.principal import Principal, PrincipalKind, Role
from csms.access.people.service import PeopleService, Refusal, SignIn
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.store.database import Database
from csms.store.tables.people import person, sign_in

PASSWORD = "loom and shuttle"


@pytest.fixture
def people(database: Database, clock: ManualClock) -> PeopleService:
    """With a hash that costs little."""
    return PeopleService(
        database, clock, session_hours=2, hasher=PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    )


async def signed_in(people: PeopleService, name: str = "olga") -> SignIn:
    result = await people.sign_in(name, PASSWORD)
    assert isinstance(result, SignIn)
    return result


async def test_signing_in_gives_a_secret_that_is_recognised(people: PeopleService) -> None:
    await people.create("olga", PASSWORD, "reader")
    entered = await signed_in(people, "  olga ")
    assert entered.principal == Principal(PrincipalKind.PERSON, "olga", Role.READER)
    assert entered.form_token not in ("", entered.secret)
    assert await people.check(entered.secret) == entered
    assert await people.check(entered.form_token) is None
    assert await people.check("\ud800") is None


async def test_the_database_holds_neither_password_nor_secret(
    people: PeopleService, database: Database
) -> None:
    await people.create("olga", PASSWORD)
    entered = await signed_in(people)
    async with database.read() as connection:
        kept = (await connection.execute(select(person.c.password_hash))).scalar_one()
        row = (await connection.execute(select(sign_in))).one()
    # PHC string format of argon2id, version 1.3 (RFC 9106).
    assert re.fullmatch(r"\$argon2id\$v=19\$m=64,t=1,p=1\$[\w+/]+\$[\w+/]+", kept)
    assert PASSWORD not in kept
    assert row.secret_hash != entered.secret.encode()
    assert len(row.secret_hash) == 32


async def test_a_wrong_password_and_an_unknown_name_are_not_told_apart(people: PeopleService) -> None:
    await people.create("olga", PASSWORD)
    assert await people.sign_in("olga", "wrong password") is Refusal.WRONG
    assert await people.sign_in("piet", PASSWORD) is Refusal.WRONG
    assert await people.sign_in("piet\x00", PASSWORD) is Refusal.WRONG
    assert await people.sign_in("olga", PASSWORD * 1000) is Refusal.WRONG


async def test_five_failures_close_the_name_for_five_minutes(
    people: PeopleService, clock: ManualClock
) -> None:
    await people.create("olga", PASSWORD)
    for _ in range(5):
        assert await people.sign_in("olga", "wrong password") is Refusal.WRONG
    assert await people.sign_in("olga", PASSWORD) is Refusal.TOO_MANY
    clock.advance(300)
    await signed_in(people)


async def test_a_sign_in_ends_by_itself_and_by_hand(people: PeopleService, clock: ManualClock) -> None:
    await people.create("olga", PASSWORD)
    first, second = await signed_in(people), await signed_in(people)
    await people.sign_out(first.secret)
    await people.sign_out(first.secret)
    assert await people.check(first.secret) is None
    clock.advance(2 * 3600 - 1)
    assert await people.check(second.secret) is not None
    clock.advance(1)
    assert await people.check(second.secret) is None


async def test_sign_ins_that_have_run_out_do_not_pile_up(
    people: PeopleService, clock: ManualClock, database: Database
) -> None:
    await people.create("olga", PASSWORD)
    await signed_in(people)
    clock.advance(2 * 3600)
    await signed_in(people)
    async with database.read() as connection:
        assert len((await connection.execute(select(sign_in))).all()) == 1


async def test_a_new_password_signs_everybody_out(people: PeopleService) -> None:
    await people.create("olga", PASSWORD)
    entered = await signed_in(people)
    await people.set_password("olga", "warp and weft")
    assert await people.check(entered.secret) is None
    assert await people.sign_in("olga", PASSWORD) is Refusal.WRONG
    assert isinstance(await people.sign_in("olga", "warp and weft"), SignIn)
    with pytest.raises(NotFound):
        await people.set_password("piet", "warp and weft")


async def test_who_was_removed_is_out(people: PeopleService) -> None:
    await people.create("olga", PASSWORD)
    entered = await signed_in(people)
    await people.remove("olga")
    assert await people.check(entered.secret) is None
    assert await people.list() == ()
    with pytest.raises(NotFound):
        await people.remove("olga")


async def test_a_name_is_given_once_and_input_is_checked(people: PeopleService) -> None:
    await people.create("olga", PASSWORD)
    with pytest.raises(Conflict):
        await people.create(" olga ", PASSWORD)
    with pytest.raises(InvalidInput):
        await people.create("piet", "short")
    assert [each.name for each in await people.list()] == ["olga"]
