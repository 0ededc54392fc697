"""Rows of tokens."""

from dataclasses import asdict
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection

from csms.access.tokens.token import Token
from csms.errors import Conflict, NotFound
from csms.stations.model import TokenKind
from csms.store.paging import Page, fetch_page
from csms.store.tables.access import member as members
from csms.store.tables.access import token as tokens
from csms.store.tables.access import unknown_card
from csms.store.tables.sessions import session as sessions


async def insert_token(connection: AsyncConnection, new: Token) -> None:
    """The card is unknown no more. Raises Conflict when the token exists."""
    try:
        await connection.execute(insert(tokens).values(_values(new)))
    except IntegrityError as error:
        raise Conflict(f"the token {new.text!r} exists already") from error
    await connection.execute(delete(unknown_card).where(unknown_card.c.folded == new.folded))


async def update_token(connection: AsyncConnection, changed: Token) -> None:
    await connection.execute(update(tokens).where(tokens.c.id == changed.id).values(_values(changed)))


async def delete_token(connection: AsyncConnection, token_id: str) -> None:
    await connection.execute(delete(tokens).where(tokens.c.id == token_id))


async def get_token(connection: AsyncConnection, token_id: str, *, lock: bool = False) -> Token:
    """Raises NotFound. With `lock`, nobody else changes it until the transaction ends."""
    query = select(tokens).where(tokens.c.id == token_id)
    row = (await connection.execute(query.with_for_update() if lock else query)).one_or_none()
    if row is None:
        raise NotFound("token", token_id)
    return token_of(row)


async def find_folded(connection: AsyncConnection, folded: str) -> Token | None:
    row = (await connection.execute(select(tokens).where(tokens.c.folded == folded))).one_or_none()
    return None if row is None else token_of(row)


async def list_tokens(
    connection: AsyncConnection,
    *,
    site_id: str | None,
    member_id: str | None,
    folded: str | None,
    after: str | None,
    limit: int,
) -> Page[Token]:
    query = select(tokens)
    if site_id is not None:
        query = query.join(members, members.c.id == tokens.c.member_id).where(members.c.site_id == site_id)
    if member_id is not None:
        query = query.where(tokens.c.member_id == member_id)
    if folded is not None:
        query = query.where(tokens.c.folded == folded)
    return await fetch_page(connection, query, tokens.c.id, token_of, after=after, limit=limit)


async def owner(connection: AsyncConnection, member_id: str) -> tuple[str, str] | None:
    """The site and the name of a member."""
    query = select(members.c.site_id, members.c.name).where(members.c.id == member_id)
    row = (await connection.execute(query)).one_or_none()
    return None if row is None else (row.site_id, row.name)


async def sessions_of(connection: AsyncConnection, token_id: str) -> int:
    """How many sessions the token was used for."""
    query = select(func.count()).where(sessions.c.token_id == token_id)
    return int((await connection.execute(query)).scalar_one())


def token_of(row: Row[Any]) -> Token:
    """The token of a row of its table."""
    return Token(
        id=row.id,
        folded=row.folded,
        text=row.text,
        kind=TokenKind(row.kind),
        member_id=row.member_id,
        label=row.label,
        group_text=row.group_text,
        valid_from=row.valid_from,
        valid_to=row.valid_to,
        blocked=row.blocked,
        created_at=row.created_at,
    )


def _values(token: Token) -> dict[str, Any]:
    return {**asdict(token), "kind": token.kind.value}
