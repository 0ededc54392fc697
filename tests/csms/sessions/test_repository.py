"""Rows of sessions, on both databases."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from csms.errors import NotFound
from csms.metering.series import Meter
from csms.sessions import repository
from csms.sessions.live import Standing, live_of
from csms.sessions.pauses import Pause
from csms.sessions.session import Mark, Session, State
from csms.stations.model import ChargingState, StopReason
from csms.store.database import Database
from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2, SITE

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
FULL = Session(
    station_id=BAY_1,
    site_id=SITE,
    evse=1,
    connector=2,
    transaction_id="tx",
    start_key="key",
    remote_start_id=5,
    state=State.ENDED,
    charging=ChargingState.IDLE,
    token_folded="04a1",
    token_text="04A1",
    token_id="tok",
    member_id="mem",
    verdict="accepted",
    verdict_reason="ok",
    started_at=AT,
    ended_at=AT + timedelta(hours=1),
    arrived_at=AT + timedelta(seconds=1),
    stop_reason=StopReason.REMOTE,
    register_start_wh=5_000_000_000,
    register_last_wh=5_000_000_900,
    register_last_at=AT + timedelta(minutes=50),
    register_stop_wh=5_000_001_000,
    energy_wh=1000,
    last_sequence=9,
    marks={Mark.SEQUENCE_GAP.value: [[0, 3], [5, 9]]},
)


@pytest.fixture
def yard(talk: Conversation) -> Database:
    return talk.database


async def test_a_session_is_read_as_it_was_written(yard: Database) -> None:
    async with yard.write() as connection:
        full = replace(FULL, id=await repository.insert_session(connection, FULL))
        assert await repository.get_session(connection, full.id, lock=True) == full
        assert await repository.by_transaction(connection, BAY_1, "tx") == full
        assert await repository.by_transaction(connection, BAY_2, "tx") is None
        assert await repository.by_start_key(connection, BAY_1, "key") == full
        assert await repository.by_start_key(connection, BAY_1, "other") is None
        stop = (full.ended_at or AT, full.register_stop_wh)
        assert await repository.ended_alike(connection, BAY_1, *stop) == full
        assert await repository.ended_alike(connection, BAY_1, stop[0], None) is None
        changed = replace(full, energy_wh=7, marks={}, stop_reason=None)
        await repository.update_session(connection, changed)
        assert await repository.get_session(connection, full.id) == changed
        await repository.delete_session(connection, full.id)
        with pytest.raises(NotFound):
            await repository.get_session(connection, full.id)


async def test_only_pricing_sets_the_cost(yard: Database) -> None:
    async with yard.write() as connection:
        full = replace(FULL, id=await repository.insert_session(connection, FULL))
        assert await repository.set_cost(connection, full.id, {"currency": "EUR", "cost_excl_minor": 5})
        await repository.update_session(connection, full)
        found = await repository.get_session(connection, full.id)
        assert (found.currency, found.cost_excl_minor) == ("EUR", 5)
        assert not await repository.set_cost(connection, 10**6, {"currency": "EUR"})


async def test_sessions_that_have_not_ended(yard: Database) -> None:
    async with yard.write() as connection:
        ids = {}
        for state in State:
            session = replace(FULL, state=state, transaction_id=state.value, start_key=None)
            ids[state] = await repository.insert_session(connection, session)
        found = await repository.not_ended(connection, BAY_1)
        assert [s.state for s in found] == [s for s in reversed(State) if s is not State.ENDED]
        assert {s.state for s in await repository.open_at(connection, BAY_1)} == {
            State.PROVISIONAL,
            State.STARTED,
            State.CHARGING,
            State.SUSPENDED,
        }
        assert await repository.open_at(connection, BAY_2) == ()
        running = await repository.running_with(connection, "04a1", ids[State.STARTED])
        assert {r.session_id for r in running} == {
            ids[State.PROVISIONAL],
            ids[State.CHARGING],
            ids[State.SUSPENDED],
        }
        assert running[0].heard_at == FULL.register_last_at
        assert await repository.running_with(connection, "", None) == ()


async def test_ids_that_we_gave_to_another_station_are_foreign(yard: Database) -> None:
    async with yard.write() as connection:
        session_id = await repository.insert_session(connection, replace(FULL, transaction_id=None))
        text = str(session_id)
        await repository.update_session(connection, replace(FULL, id=session_id, transaction_id=text))
        assert await repository.is_foreign(connection, BAY_2, text)
        assert not await repository.is_foreign(connection, BAY_1, text)
        for other in ("tx", str(session_id + 1), "9" * 30, "-1", "²"):
            assert not await repository.is_foreign(connection, BAY_2, other)


async def test_the_short_way_writes_where_the_meter_stands(yard: Database) -> None:
    async with yard.write() as connection:
        session_id = await repository.insert_session(connection, replace(FULL, state=State.CHARGING))
    live = live_of(replace(FULL, id=session_id), Meter(), None, 22_080)
    later = AT + timedelta(minutes=55)
    standing = Standing(Meter(950, 0, 5_000_000_950, later), later, 10)
    await yard.writer.add(repository.measured(live, standing))
    async with yard.read() as connection:
        session = await repository.get_session(connection, session_id)
    assert (session.energy_wh, session.register_last_wh, session.register_last_at, session.last_sequence) == (
        950,
        5_000_000_950,
        later,
        10,
    )


async def test_pauses_are_kept_and_ended(yard: Database) -> None:
    begin = [Pause(AT, None, True), Pause(AT, None, False)]
    over = [Pause(AT, AT + timedelta(minutes=5), True)]
    async with yard.write() as connection:
        session_id = await repository.insert_session(connection, FULL)
        await repository.keep_pauses(connection, yard.dialect, session_id, begin)
        await repository.keep_pauses(connection, yard.dialect, session_id, over)
        assert await repository.pauses_of(connection, session_id, running=True) == (begin[1],)
        assert set(await repository.pauses_of(connection, session_id, running=False)) == {
            begin[1],
            over[0],
        }
        # Begun anew at the very moment it ended: one row, which goes on.
        await repository.keep_pauses(connection, yard.dialect, session_id, begin[:1])
        assert set(await repository.pauses_of(connection, session_id, running=True)) == set(begin)


async def test_an_orphan_is_kept_once(yard: Database) -> None:
    async with yard.write() as connection:
        assert await repository.add_orphan(connection, BAY_1, AT, AT, "r" * 999, {"a": 1})
        assert not await repository.add_orphan(connection, BAY_1, AT, AT, "again", {"a": 1})
        assert await repository.add_orphan(connection, BAY_1, AT, AT, "other", {"a": 2})


async def test_what_is_known_of_a_station(yard: Database) -> None:
    async with yard.read() as connection:
        assert await repository.station_facts(connection, BAY_1) == (SITE, 32.0)
        assert await repository.station_facts(connection, "NOBODY") is None
        assert await repository.only_evse(connection, BAY_1) is None
