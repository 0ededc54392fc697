"""Tokens, as the rest of the program holds them."""

from dataclasses import replace
from datetime import datetime
from typing import Unpack

from csms.access.ownerships.service import hand_over
from csms.access.tokens import repository
from csms.access.tokens.token import Token, TokenChanges, check_token, fold
from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.stations.model import TokenKind
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class TokensService:
    """Keeps tokens. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self,
        *,
        text: str,
        member_id: str,
        kind: TokenKind = TokenKind.RFID,
        label: str = "",
        group_text: str = "",
        valid_from: datetime | None = None,
        valid_to: datetime | None = None,
        id: str | None = None,
    ) -> Token:
        """A new token of a member. If the card was among the unknown ones it is no more."""
        token = check_token(
            Token(
                id=new_id("tok") if id is None else id,
                folded="",
                text=text,
                kind=kind,
                member_id=member_id,
                label=label,
                group_text=group_text,
                valid_from=valid_from,
                valid_to=valid_to,
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            owner = await repository.owner(connection, member_id)
            if owner is None:
                raise InvalidInput("member_id", f"there is no member {member_id!r}")
            await repository.insert_token(connection, token)
            await hand_over(connection, token.id, owner[0], member_id, None, token.created_at)
            await put(connection, self._fact("created", token, owner))
        return token

    async def get(self, token_id: str) -> Token:
        async with self._database.read() as connection:
            return await repository.get_token(connection, token_id)

    async def find(self, text: str) -> Token | None:
        """The token that `text` is a spelling of."""
        async with self._database.read() as connection:
            return await repository.find_folded(connection, fold(text))

    async def list(
        self,
        *,
        site_id: str | None = None,
        member_id: str | None = None,
        text: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Token]:
        """Tokens that fit all that is given, in order of their ids; `text` in any spelling."""
        async with self._database.read() as connection:
            return await repository.list_tokens(
                connection,
                site_id=site_id,
                member_id=member_id,
                folded=None if text is None else fold(text),
                after=after,
                limit=limit,
            )

    async def update(self, token_id: str, **changes: Unpack[TokenChanges]) -> Token:
        """The token after `changes`; a new owner counts from the next session on, and pays from now on."""
        async with self._database.write() as connection:
            token = await repository.get_token(connection, token_id, lock=True)
            changed = check_token(replace(token, **changes))
            owner = await repository.owner(connection, changed.member_id)
            if owner is None:
                raise InvalidInput("member_id", f"there is no member {changed.member_id!r}")
            if changed != token:
                await repository.update_token(connection, changed)
                if changed.member_id != token.member_id:
                    now = self._clock.now()
                    await hand_over(connection, token_id, owner[0], changed.member_id, now, now)
                await put(connection, self._fact("changed", changed, owner))
        return changed

    async def block(self, token_id: str) -> Token:
        """Refuse the token from now on; a running session goes on."""
        return await self.update(token_id, blocked=True)

    async def unblock(self, token_id: str) -> Token:
        return await self.update(token_id, blocked=False)

    async def delete(self, token_id: str) -> None:
        """Remove a token that was never used; Conflict otherwise."""
        async with self._database.write() as connection:
            token = await repository.get_token(connection, token_id)
            used = await repository.sessions_of(connection, token_id)
            if used:
                raise Conflict(f"token {token.text} was used for {used} sessions; block it instead")
            await repository.delete_token(connection, token_id)
            owner = await repository.owner(connection, token.member_id)
            await put(connection, self._fact("deleted", token, owner or (None, "")))

    def _fact(self, change: str, token: Token, owner: tuple[str | None, str]) -> Fact:
        body = {
            "change": change,
            "token": token.text,
            "label": token.label,
            "member": owner[1],
            "blocked": token.blocked,
        }
        now = self._clock.now()
        return Fact(topic="token.changed", at=now, site_id=owner[0], subject=token.id, body=body)
