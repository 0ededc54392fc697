"""Station asks, we answer: may this token charge?"""

from csms.access.handlers import AccessHandlers
from csms.access.rights.service import RightsService
from csms.access.tokens.service import TokensService
from csms.access.verdict.service import Judge
from csms.clock import ManualClock
from csms.dispatch import Dispatcher
from csms.stations.model import TokenAnswer, TokenRef, Verdict
from csms.stations.questions import MayCharge
from csms.store.database import Database
from tests.csms.yard import BAY_1, CARD_12, FLAT_12, SITE, facts


async def test_station_asks_for_a_card_we_answer(yard: Database, clock: ManualClock) -> None:
    dispatcher = Dispatcher()
    AccessHandlers(Judge(yard)).register(dispatcher)
    await RightsService(yard, clock).give(site_id=SITE, member_id=FLAT_12)
    await TokensService(yard, clock).update(f"tok-{FLAT_12}", group_text="FAMILY-12")

    async def station_asks(text: str) -> TokenAnswer:
        answer = await dispatcher.ask(BAY_1, MayCharge(TokenRef(text), evse=1), clock.now())
        assert isinstance(answer, TokenAnswer)
        return answer

    assert await station_asks("04:a1:b2:c3:d4") == TokenAnswer(Verdict.ACCEPTED, None, "FAMILY-12")
    assert await station_asks("0000") == TokenAnswer(Verdict.UNKNOWN)
    assert [fact.topic for fact in await facts(yard, "token.unknown")] == ["token.unknown"]
    # The parent token is told to stations, never taken from them (OCPP 1.6 section 3.10).
    assert (await station_asks("FAMILY-12")).verdict is Verdict.UNKNOWN
    await TokensService(yard, clock).block(f"tok-{FLAT_12}")
    assert (await station_asks(CARD_12)).verdict is Verdict.BLOCKED
