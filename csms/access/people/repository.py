"""Rows of people and of their sign-ins."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.people.principal import Role
from csms.store.dialects import upsert
from csms.store.tables.people import person, sign_in


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who can sign in."""

    name: str
    role: Role
    created_at: datetime


async def add_person(connection: AsyncConnection, dialect: str, new: Person, password_hash: str) -> bool:
    """False when the name is taken."""
    statement = upsert(dialect, person).values(
        name=new.name, password_hash=password_hash, role=new.role.value, created_at=new.created_at
    )
    statement = statement.on_conflict_do_nothing().returning(person.c.name)
    return (await connection.execute(statement)).first() is not None


async def list_people(connection: AsyncConnection) -> tuple[Person, ...]:
    """All, by name."""
    rows = await connection.execute(select(person).order_by(person.c.name))
    return tuple(_person(row) for row in rows)


async def password_of(connection: AsyncConnection, name: str) -> tuple[Person, str] | None:
    """The person and the hash of their password."""
    row = (await connection.execute(select(person).where(person.c.name == name))).first()
    return None if row is None else (_person(row), str(row.password_hash))


async def set_password(connection: AsyncConnection, name: str, password_hash: str) -> bool:
    """Replace the hash; False when there is no such person."""
    statement = update(person).where(person.c.name == name).values(password_hash=password_hash)
    return (await connection.execute(statement)).rowcount == 1


async def remove_person(connection: AsyncConnection, name: str) -> bool:
    """The person and their sign-ins; False when there is no such person."""
    return (await connection.execute(delete(person).where(person.c.name == name))).rowcount == 1


async def add_sign_in(
    connection: AsyncConnection,
    secret_hash: bytes,
    name: str,
    form_token: str,
    now: datetime,
    expires_at: datetime,
) -> None:
    """A new sign-in; those that have run out go."""
    await connection.execute(delete(sign_in).where(sign_in.c.expires_at <= now))
    await connection.execute(
        insert(sign_in).values(
            secret_hash=secret_hash,
            person=name,
            form_token=form_token,
            created_at=now,
            expires_at=expires_at,
        )
    )


async def find_sign_in(
    connection: AsyncConnection, secret_hash: bytes, now: datetime
) -> tuple[Person, str, datetime] | None:
    """The person, the form token and the end of a sign-in that holds at `now`."""
    query = (
        select(person, sign_in.c.form_token, sign_in.c.expires_at)
        .join(sign_in, sign_in.c.person == person.c.name)
        .where(sign_in.c.secret_hash == secret_hash, sign_in.c.expires_at > now)
    )
    row = (await connection.execute(query)).first()
    return None if row is None else (_person(row), row.form_token, row.expires_at)


async def remove_sign_ins(
    connection: AsyncConnection, *, secret_hash: bytes | None = None, name: str | None = None
) -> None:
    """End one sign-in, or all of a person."""
    statement = delete(sign_in)
    if secret_hash is not None:
        statement = statement.where(sign_in.c.secret_hash == secret_hash)
    if name is not None:
        statement = statement.where(sign_in.c.person == name)
    await connection.execute(statement)


def _person(row: Row[Any]) -> Person:
    return Person(row.name, Role(row.role), row.created_at)
