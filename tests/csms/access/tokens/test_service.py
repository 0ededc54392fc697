"""Tokens by their service, on both databases."""

from datetime import timedelta

import pytest
from sqlalchemy import insert

from csms.access.tokens.service import TokensService
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.stations.model import TokenKind
from csms.store.database import Database
from csms.store.tables.sessions import session
from tests.csms.yard import BAY_1, CARD_12, EARLY, FLAT_7, FLAT_12, SITE, facts


@pytest.fixture
def tokens(yard: Database, clock: ManualClock) -> TokensService:
    return TokensService(yard, clock)


async def test_a_token_is_created_found_in_any_spelling_and_told_of(
    tokens: TokensService, yard: Database
) -> None:
    token = await tokens.create(text="AB:CD:EF:01", member_id=FLAT_7, label="spare")
    assert await tokens.get(token.id) == token
    assert await tokens.find("abcdef01") == token
    assert [t.id for t in (await tokens.list(text="AB-CD-EF-01")).items] == [token.id]
    (told,) = await facts(yard, "token.changed")
    assert (told.site_id, told.subject) == (SITE, token.id)
    assert told.body == {
        "change": "created",
        "token": "AB:CD:EF:01",
        "label": "spare",
        "member": "flat 7",
        "blocked": False,
    }


async def test_one_card_cannot_be_two_tokens(tokens: TokensService) -> None:
    with pytest.raises(Conflict):
        await tokens.create(text=CARD_12.lower(), member_id=FLAT_7)


async def test_a_token_needs_a_member(tokens: TokensService) -> None:
    with pytest.raises(InvalidInput, match="member_id"):
        await tokens.create(text="1234", member_id="nobody")
    with pytest.raises(InvalidInput, match="member_id"):
        await tokens.update(f"tok-{FLAT_7}", member_id="nobody")
    with pytest.raises(InvalidInput, match="kind"):
        await tokens.create(text="1234", member_id=FLAT_7, kind=TokenKind.LOCAL)


async def test_a_token_is_blocked_given_a_time_a_label_and_another_member(
    tokens: TokensService, yard: Database, clock: ManualClock
) -> None:
    token_id = f"tok-{FLAT_12}"
    assert (await tokens.block(token_id)).blocked
    assert (await tokens.block(token_id)).blocked
    assert not (await tokens.unblock(token_id)).blocked
    until = clock.now() + timedelta(days=30)
    changed = await tokens.update(token_id, valid_to=until, label="lent", member_id=FLAT_7)
    assert await tokens.get(token_id) == changed
    assert (changed.valid_to, changed.label, changed.member_id) == (until, "lent", FLAT_7)
    told = await facts(yard, "token.changed")
    assert [(fact.body["blocked"], fact.body["member"]) for fact in told] == [
        (True, "flat 12"),
        (False, "flat 12"),
        (False, "flat 7"),
    ]


async def test_a_used_token_cannot_be_deleted(tokens: TokensService, yard: Database) -> None:
    async with yard.write() as connection:
        await connection.execute(
            insert(session).values(
                station_id=BAY_1,
                state="ended",
                token_id=f"tok-{FLAT_12}",
                started_at=EARLY,
                arrived_at=EARLY,
                marks={},
            )
        )
    with pytest.raises(Conflict, match="block it instead"):
        await tokens.delete(f"tok-{FLAT_12}")
    await tokens.delete(f"tok-{FLAT_7}")
    with pytest.raises(NotFound):
        await tokens.get(f"tok-{FLAT_7}")
