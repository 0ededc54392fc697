"""Rows of tokens, on both databases."""

import pytest

from csms.access.tokens import repository
from csms.access.tokens.token import Token, fold
from csms.errors import Conflict, NotFound
from csms.stations.model import TokenKind
from csms.store.database import Database
from tests.csms.yard import CARD_12, EARLY, FLAT_7, FLAT_12, SITE


async def test_a_token_is_read_as_it_was_written_and_only_once(yard: Database) -> None:
    token = Token(
        id="tok_1",
        folded="0a",
        text="0A",
        kind=TokenKind.KEY_CODE,
        member_id=FLAT_7,
        label="pin",
        group_text="family",
        valid_from=EARLY,
        created_at=EARLY,
    )
    async with yard.write() as connection:
        await repository.insert_token(connection, token)
    async with yard.read() as connection:
        assert await repository.get_token(connection, "tok_1") == token
        assert await repository.find_folded(connection, "0a") == token
        assert await repository.find_folded(connection, "0A") is None
        assert await repository.owner(connection, FLAT_7) == (SITE, "flat 7")
        assert await repository.owner(connection, "nobody") is None
        assert await repository.sessions_of(connection, "tok_1") == 0
    with pytest.raises(Conflict):
        async with yard.write() as connection:
            await repository.insert_token(connection, token)
    async with yard.write() as connection:
        await repository.delete_token(connection, "tok_1")
    async with yard.read() as connection:
        with pytest.raises(NotFound):
            await repository.get_token(connection, "tok_1")


async def test_tokens_are_listed_by_site_member_and_spelling(yard: Database) -> None:
    async with yard.read() as connection:

        async def ids(
            site_id: str | None = None, member_id: str | None = None, folded: str | None = None
        ) -> list[str]:
            page = await repository.list_tokens(
                connection, site_id=site_id, member_id=member_id, folded=folded, after=None, limit=10
            )
            return [token.id for token in page.items]

        assert await ids(site_id=SITE) == [f"tok-{FLAT_12}", f"tok-{FLAT_7}"]
        assert await ids(site_id="mill") == []
        assert await ids(member_id=FLAT_7) == [f"tok-{FLAT_7}"]
        assert await ids(folded=fold(CARD_12)) == [f"tok-{FLAT_12}"]
