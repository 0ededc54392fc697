"""Steps that fitted nowhere, settled by a person, on both databases."""

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from csms.sessions import intake, repository
from csms.sessions.orphans.service import OrphansService
from csms.sessions.session import State
from csms.stations.model import TokenRef
from csms.stations.questions import TransactionReported, TransactionStep
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2, CARD_7, facts


@pytest.fixture
def orphans(talk: Conversation) -> OrphansService:
    return OrphansService(talk.database, talk.clock, talk.filing, talk.lanes)


async def a_stop_in_doubt(talk: Conversation) -> tuple[int, int]:
    """Two sessions run at bay 1, and a stop comes that may be of either. Their ids."""
    first = await talk.starts(0, 1000)
    second = await talk.starts(1, 1000, evse=2, token=TokenRef(CARD_7))
    await talk.stops(10, "-1", 2500)
    return int(first.transaction_id), int(second.transaction_id)


async def test_a_stop_is_put_into_the_session_it_belongs_to(
    talk: Conversation, orphans: OrphansService
) -> None:
    first, second = await a_stop_in_doubt(talk)
    (orphan,) = (await orphans.list(station_id=BAY_1, resolved=False)).items
    settled = await orphans.assign(orphan.id, second, "Marta of the board", "she saw it")
    assert (settled.session_id, settled.resolved_by, settled.note) == (
        *(second, "Marta of the board"),
        "she saw it",
    )
    sessions = {session.id: session for session in await talk.all()}
    assert (sessions[second].state, sessions[second].energy_wh) == (State.ENDED, 1500)
    assert sessions[second].ended_at == talk.at(10)
    assert sessions[first].open
    assert [fact.subject for fact in await facts(talk.database, "session.ended")] == [str(second)]
    assert (await orphans.list(resolved=False)).items == ()
    for again in (orphans.assign(orphan.id, first, "x"), orphans.dismiss(orphan.id, "x", "y")):
        with pytest.raises(Conflict, match="Marta"):
            await again
    # What runs goes on: memory and database agree.
    await talk.stops(12, str(first), 2600)
    assert [session.open for session in await talk.all()] == [False, False]


async def test_a_step_is_dismissed_with_a_note_only(talk: Conversation, orphans: OrphansService) -> None:
    await a_stop_in_doubt(talk)
    (orphan,) = (await orphans.list()).items
    with pytest.raises(InvalidInput) as refused:
        await orphans.dismiss(orphan.id, "Marta", "  ")
    assert refused.value.field == "note"
    settled = await orphans.dismiss(orphan.id, "Marta", "a test by the electrician")
    assert (settled.session_id, settled.note) == (None, "a test by the electrician")
    assert (await orphans.list(resolved=True)).items == (settled,)
    assert await orphans.get(orphan.id) == settled


async def test_what_cannot_be_is_refused_and_changes_nothing(
    talk: Conversation, orphans: OrphansService
) -> None:
    first, _ = await a_stop_in_doubt(talk)
    elsewhere = await talk.starts(20, 0, station=BAY_2)
    (orphan,) = (await orphans.list()).items
    with pytest.raises(InvalidInput) as refused:
        await orphans.assign(orphan.id, int(elsewhere.transaction_id), "x")
    assert refused.value.field == "session_id"
    with pytest.raises(NotFound):
        await orphans.assign(orphan.id, 4711, "x")
    with pytest.raises(NotFound):
        await orphans.dismiss(4711, "x", "y")
    async with talk.database.write() as connection:
        start = TransactionReported(step=TransactionStep.BEGAN, transaction_id="a", at=talk.at(0))
        for number, body in enumerate((intake.body(start), {"text": "…"})):
            await repository.add_orphan(connection, BAY_1, talk.at(number), talk.at(1), "odd", body)
    for odd in (await orphans.list()).items[:2]:
        with pytest.raises(Conflict, match="dismiss"):
            await orphans.assign(odd.id, first, "x")
    assert len((await orphans.list(resolved=False)).items) == 3
