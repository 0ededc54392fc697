"""Judging, and the record of what was refused, on both databases."""

from datetime import timedelta

from csms.access.cards.service import CardsService
from csms.access.rights.service import RightsService
from csms.access.tokens.service import TokensService
from csms.access.verdict.decide import Reason, Running
from csms.access.verdict.service import Judge
from csms.clock import ManualClock
from csms.stations.model import TokenKind, TokenRef
from csms.store.database import Database
from tests.csms.yard import BAY_1, BAY_2, CARD_7, CARD_12, COURTYARD, RESIDENTS, SITE, VAN_1, facts


async def test_a_right_on_a_board_holds_at_its_bays_only(yard: Database, clock: ManualClock) -> None:
    await RightsService(yard, clock).give(site_id=SITE, group_id=RESIDENTS, circuit_id=COURTYARD)
    judge = Judge(yard)
    card = TokenRef(CARD_12.lower())
    assert (await judge.answer(BAY_1, card, 1, clock.now())).reason is Reason.OK
    assert (await judge.answer(VAN_1, card, 1, clock.now())).reason is Reason.NO_RIGHT_HERE
    assert (await judge.answer("NOBODY", card, 1, clock.now())).reason is Reason.NO_RIGHT_HERE
    assert (await judge.answer(BAY_1, TokenRef(CARD_7), 1, clock.now())).reason is Reason.NO_RIGHT_HERE
    told = await facts(yard, "token.refused")
    assert [(fact.site_id, fact.subject, fact.body["sentence"]) for fact in told] == [
        (SITE, VAN_1, "Token 04a1b2c3d4 of flat 12 has no right at VAN-01"),
        (None, "NOBODY", "Token 04a1b2c3d4 of flat 12 has no right at NOBODY"),
        (SITE, BAY_1, "Token 04FFEE1122 of flat 7 has no right at YARD-01"),
    ]


async def test_a_grant_leaves_no_trace(yard: Database, clock: ManualClock) -> None:
    await RightsService(yard, clock).give(site_id=SITE, group_id=RESIDENTS)
    before = len(await facts(yard))
    await Judge(yard).answer(BAY_1, TokenRef(CARD_12), 1, clock.now())
    assert len(await facts(yard)) == before


async def test_unknown_cards_are_remembered_but_not_nameless_ones(yard: Database, clock: ManualClock) -> None:
    judge = Judge(yard)
    card = TokenRef("DE AD\x00 BE EF")
    await judge.answer(BAY_1, card, 1, clock.now())
    await judge.answer(BAY_2, card, None, clock.now())
    nameless = await judge.answer(BAY_1, TokenRef("", TokenKind.NONE), 1, clock.now())
    assert nameless.reason is Reason.NO_TOKEN
    cards = CardsService(yard, TokensService(yard, clock))
    (seen,) = await cards.latest()
    assert (seen.folded, seen.text, seen.times, seen.station_id) == ("deadbeef", "DE AD BE EF", 2, BAY_2)
    assert [fact.topic for fact in await facts(yard)] == ["token.unknown", "token.unknown", "token.refused"]


async def test_sessions_that_run_elsewhere_are_the_caller_s_to_tell(
    yard: Database, clock: ManualClock
) -> None:
    await RightsService(yard, clock).give(site_id=SITE, group_id=RESIDENTS)
    now = clock.now()
    running = (Running(1, BAY_2, 1, now - timedelta(hours=1), now),)
    async with yard.read() as connection:
        decision = await Judge(yard).verdict(
            connection, BAY_1, TokenRef(CARD_12), now, evse=1, running=running
        )
    assert decision.reason is Reason.ALREADY_CHARGING
