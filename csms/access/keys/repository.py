"""Rows of API keys."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, bindparam, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.people.principal import Role
from csms.store.dialects import upsert
from csms.store.group_commit import Change
from csms.store.tables.people import api_key

_USED = update(api_key).where(api_key.c.id == bindparam("key_id")).values(last_used_at=bindparam("used_at"))


@dataclass(frozen=True, slots=True)
class ApiKey:
    """A key without its secret."""

    id: str
    name: str
    role: Role
    revoked: bool
    created_at: datetime
    last_used_at: datetime | None


async def add_key(connection: AsyncConnection, dialect: str, new: ApiKey, secret_hash: bytes) -> bool:
    """False when the name is taken."""
    statement = upsert(dialect, api_key).values(
        id=new.id,
        name=new.name,
        secret_hash=secret_hash,
        role=new.role.value,
        revoked=False,
        created_at=new.created_at,
    )
    statement = statement.on_conflict_do_nothing().returning(api_key.c.id)
    return (await connection.execute(statement)).first() is not None


async def list_keys(connection: AsyncConnection) -> tuple[ApiKey, ...]:
    """All, by name."""
    rows = await connection.execute(select(api_key).order_by(api_key.c.name))
    return tuple(_key(row) for row in rows)


async def revoke_key(connection: AsyncConnection, name: str) -> bool:
    """False when there is no such key."""
    statement = update(api_key).where(api_key.c.name == name).values(revoked=True)
    return (await connection.execute(statement)).rowcount == 1


async def find_key(connection: AsyncConnection, secret_hash: bytes) -> ApiKey | None:
    """The key that is not revoked and has this hash."""
    query = select(api_key).where(api_key.c.secret_hash == secret_hash, api_key.c.revoked.is_(False))
    row = (await connection.execute(query)).first()
    return None if row is None else _key(row)


def used(key_id: str, at: datetime) -> Change:
    """The note that a key was used, for the group commit."""
    return Change(_USED, {"key_id": key_id, "used_at": at})


def _key(row: Row[Any]) -> ApiKey:
    return ApiKey(
        row.id,
        row.name,
        Role(row.role),
        row.revoked,
        row.created_at,
        row.last_used_at,
    )
