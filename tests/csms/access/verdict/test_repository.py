"""What a verdict has to know, on both databases."""

from csms.access.rights.right import Place
from csms.access.rights.service import RightsService
from csms.access.tokens.token import fold
from csms.access.verdict.repository import known_token, place_of, rights_at
from csms.clock import ManualClock
from csms.store.database import Database
from tests.csms.yard import BAY_1, CARD_7, CARD_12, ELSEWHERE, FLAT_7, RESIDENTS, SITE


async def test_a_place_is_the_path_to_the_supply(yard: Database) -> None:
    async with yard.read() as connection:
        assert await place_of(connection, BAY_1) == Place(BAY_1, SITE, ("courtyard", "supply"))
        assert await place_of(connection, ELSEWHERE) == Place(ELSEWHERE, "mill")
        assert await place_of(connection, "NOBODY") == Place("NOBODY")


async def test_a_token_comes_with_its_member_and_groups(yard: Database) -> None:
    async with yard.read() as connection:
        known = await known_token(connection, fold(CARD_12))
        assert known is not None
        assert (known.token.text, known.member.name, known.groups) == (
            CARD_12,
            "flat 12",
            frozenset({RESIDENTS}),
        )
        alone = await known_token(connection, fold(CARD_7))
        assert alone is not None
        assert (alone.member.id, alone.groups) == (FLAT_7, frozenset())
        assert await known_token(connection, "0000") is None


async def test_only_rights_that_can_matter_are_fetched(yard: Database, clock: ManualClock) -> None:
    rights = RightsService(yard, clock)
    own = await rights.give(site_id=SITE, member_id=FLAT_7)
    group = await rights.give(site_id=SITE, group_id=RESIDENTS)
    everyone = await rights.give(site_id=SITE, everyone=True, station_id=BAY_1)
    async with yard.read() as connection:
        alone, resident = (
            await known_token(connection, fold(CARD_7)),
            await known_token(connection, fold(CARD_12)),
        )
        assert {r.id for r in await rights_at(connection, SITE, None)} == {everyone.id}
        assert {r.id for r in await rights_at(connection, SITE, alone)} == {everyone.id, own.id}
        assert {r.id for r in await rights_at(connection, SITE, resident)} == {everyone.id, group.id}
        assert await rights_at(connection, "mill", resident) == ()
