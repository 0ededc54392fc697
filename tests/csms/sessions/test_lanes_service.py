"""Lanes: one message of a station at a time, and a memory that can be thrown away."""

import asyncio

import pytest

from tests.csms.conversation import Conversation
from tests.csms.yard import BAY_1, BAY_2


async def test_the_memory_is_filled_from_the_database(talk: Conversation) -> None:
    tx = (await talk.starts(0, 1000)).transaction_id
    await talk.meters(5, 1500, tx)
    talk.restart()
    async with talk.lanes.lane(BAY_1) as (lane, station):
        live = station.by_transaction[tx]
        assert (live.standing.meter.energy_wh, live.standing.newest_at) == (500, talk.at(5))
        assert lane.station is station
    async with talk.lanes.lane(BAY_2) as (_, station):
        assert station.by_transaction == {}


async def test_what_failed_is_forgotten_but_not_what_we_hold_back(talk: Conversation) -> None:
    await talk.sessions.paused_by_us(BAY_1, 1, talk.at(0))
    with pytest.raises(RuntimeError):
        async with talk.lanes.lane(BAY_1) as (lane, _):
            raise RuntimeError
    assert lane.station is None
    assert lane.held == {1}
    async with talk.lanes.lane(BAY_1):
        pass
    talk.lanes.forget(BAY_1)
    talk.lanes.forget("NOBODY")
    assert talk.lanes.of(BAY_1).station is None
    assert talk.lanes.of(BAY_1) is lane


async def test_two_of_one_station_take_turns(talk: Conversation) -> None:
    order: list[str] = []
    first_is_in, go_on = asyncio.Event(), asyncio.Event()

    async def first() -> None:
        async with talk.lanes.lane(BAY_1):
            first_is_in.set()
            await go_on.wait()
            order.append("first")

    async def second() -> None:
        await first_is_in.wait()
        async with talk.lanes.lane(BAY_1):
            order.append("second")

    async def elsewhere() -> None:
        await first_is_in.wait()
        async with talk.lanes.lane(BAY_2):
            order.append("elsewhere")
            go_on.set()

    await asyncio.gather(first(), second(), elsewhere())
    assert order == ["elsewhere", "first", "second"]


async def test_many_messages_at_once_are_one_session_with_all_its_energy(talk: Conversation) -> None:
    answers = await asyncio.gather(*(talk.starts(0, 1000) for _ in range(5)))
    assert len({answer.transaction_id for answer in answers}) == 1
    tx = answers[0].transaction_id
    talk.arrive(30)
    await asyncio.gather(*(talk.meters(i, 1000 + 100 * i, tx) for i in range(1, 20)))
    session = await talk.one()
    assert session.energy_wh == 1900
    assert len(await talk.registers(session.id)) == 19
