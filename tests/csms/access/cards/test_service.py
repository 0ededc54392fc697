"""Enrol by holding a card to a charger, on both databases."""

import pytest

from csms.access.cards.service import CardsService
from csms.access.rights.service import RightsService
from csms.access.tokens.service import TokensService
from csms.access.verdict.service import Judge
from csms.clock import ManualClock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.stations.model import TokenRef, Verdict
from csms.store.database import Database
from tests.csms.yard import BAY_1, FLAT_7, SITE

NEW_CARD = TokenRef("04:99:88:77")


@pytest.fixture
def cards(yard: Database, clock: ManualClock) -> CardsService:
    return CardsService(yard, TokensService(yard, clock))


async def test_a_card_is_held_adopted_and_accepted(
    cards: CardsService, yard: Database, clock: ManualClock
) -> None:
    judge = Judge(yard)
    refused = await judge.answer(BAY_1, NEW_CARD, 1, clock.now())
    assert refused.verdict is Verdict.UNKNOWN
    (seen,) = await cards.latest(site_id=SITE)
    assert (seen.text, seen.station_id, seen.evse, seen.times) == ("04:99:88:77", BAY_1, 1, 1)

    token = await cards.adopt("04998877", member_id=FLAT_7, label="second card")
    assert (token.text, token.member_id, token.label) == ("04:99:88:77", FLAT_7, "second card")
    assert await cards.latest() == ()
    await RightsService(yard, clock).give(site_id=SITE, member_id=FLAT_7)
    assert (await judge.answer(BAY_1, TokenRef("04998877"), 1, clock.now())).accepted


async def test_a_dismissed_card_comes_back_when_it_is_held_again(
    cards: CardsService, yard: Database, clock: ManualClock
) -> None:
    judge = Judge(yard)
    await judge.answer(BAY_1, NEW_CARD, 1, clock.now())
    await cards.dismiss(NEW_CARD.text)
    assert await cards.latest() == ()
    with pytest.raises(NotFound):
        await cards.dismiss(NEW_CARD.text)
    with pytest.raises(NotFound):
        await cards.adopt(NEW_CARD.text, member_id=FLAT_7)
    await judge.answer(BAY_1, NEW_CARD, 1, clock.now())
    assert len(await cards.latest()) == 1
    with pytest.raises(InvalidInput, match="member_id"):
        await cards.adopt(NEW_CARD.text, member_id="nobody")
    assert len(await cards.latest()) == 1


async def test_a_card_made_a_token_by_hand_is_unknown_no_more(
    cards: CardsService, yard: Database, clock: ManualClock
) -> None:
    await Judge(yard).answer(BAY_1, NEW_CARD, 1, clock.now())
    tokens = TokensService(yard, clock)
    await tokens.create(text=NEW_CARD.text, member_id=FLAT_7)
    assert await cards.latest() == ()
    with pytest.raises(Conflict):
        await tokens.create(text=NEW_CARD.text, member_id=FLAT_7)
