"""Filing in the writer's transaction: what it tells, and that it can be run again."""

import asyncio

import pytest
from sqlalchemy import insert

from csms.sessions.filing_service import Filed
from csms.sessions.session import Mark
from csms.store.database import Connection
from csms.store.tables.stations import evse as evses
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, SITE, facts


async def test_a_group_that_fails_is_done_again_without_a_second_session(talk: Conversation) -> None:
    """The neighbour in the group fails: our work is rolled back, and run once more."""
    runs = 0

    async def work(connection: Connection) -> Filed:
        nonlocal runs
        runs += 1
        report = talk.start(0, 1000)
        return await talk.filing.file(connection, BAY_1, report, talk.clock.now(), start_key="k")

    async def fails(_connection: Connection) -> None:
        raise RuntimeError

    ours, theirs = await asyncio.gather(
        talk.database.writer.run(work), talk.database.writer.run(fails), return_exceptions=True
    )
    assert isinstance(theirs, RuntimeError)
    assert isinstance(ours, Filed)
    assert runs == 2
    assert (await talk.one()).id == int(ours.answer.transaction_id)
    assert len(await facts(talk.database, "session.started")) == 1


async def test_facts_can_be_read_by_people(talk: Conversation) -> None:
    answer = await talk.starts(0, 1000)
    await talk.stops(10, answer.transaction_id, 0)
    started, ended, marked = await facts(talk.database, "session.")
    session_id = int(answer.transaction_id)
    about = {
        "session": session_id,
        "station": BAY_1,
        "evse": 1,
        "transaction": str(session_id),
        "member": "flat-12",
        "token": "04A1B2C3D4",
    }
    assert (started.site_id, started.subject) == (SITE, str(session_id))
    assert started.body == {**about, "verdict": "accepted", "reason": "ok"}
    assert ended.body == {**about, "energy_wh": 0, "stop": "local", "marks": ["register_reset"]}
    assert marked.body == {**about, "mark": "register_reset", "detail": True}


async def test_a_session_that_is_over_is_not_closed_again(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.stops(5, tx, 1100)
    before = await talk.one()
    async with talk.database.write() as connection:
        same = await talk.filing.close(
            connection, before.id, Mark.CLOSED_BY_HAND, "someone", talk.clock.now()
        )
    assert same == before == await talk.one()


@pytest.mark.parametrize("evse", [None, 0])
async def test_a_start_without_an_evse_is_at_the_station_s_only_one(
    talk: Conversation, evse: int | None
) -> None:
    await talk.starts(0, 1000, evse=evse)
    assert (await talk.one()).evse is None
    async with talk.database.write() as connection:
        for number in (0, 1):
            row = {"station_id": BAY_1, "number": number, "status": "available", "status_at": talk.at(0)}
            await connection.execute(insert(evses).values(row))
    await talk.starts(5, 1000, evse=evse)
    assert [session.evse for session in await talk.all()] == [None, 1]
