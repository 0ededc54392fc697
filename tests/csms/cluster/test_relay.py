"""The outbox is handed on after the commit, in order, at least once."""

import asyncio
import contextlib

from csms.clock import ManualClock
from csms.cluster.relay import Relay
from csms.store.database import Database
from csms.store.outbox import Fact, change, put
from csms.tasks import Tasks


async def test_facts_reach_the_followers_of_their_topic_in_order(
    database: Database, clock: ManualClock
) -> None:
    relay = Relay(database, clock)
    seen: list[tuple[str, str]] = []

    async def follower(number: int, fact: Fact) -> None:
        seen.append((fact.topic, fact.subject))

    relay.follow("session.", follower)
    async with database.write() as connection:
        await put(connection, Fact(topic="session.started", at=clock.now(), subject="1", body={"bay": "B1"}))
        await put(connection, Fact(topic="station.lost", at=clock.now(), subject="B1"))
    await database.writer.add(change(Fact(topic="session.ended", at=clock.now(), subject="1")))
    assert await relay.deliver() == 3
    assert seen == [("session.started", "1"), ("session.ended", "1")]
    assert await relay.deliver() == 0


async def test_a_fact_that_was_rolled_back_is_never_told(database: Database, clock: ManualClock) -> None:
    relay = Relay(database, clock)
    try:
        async with database.write() as connection:
            await put(connection, Fact(topic="session.started", at=clock.now()))
            raise RuntimeError("no")
    except RuntimeError:
        pass
    assert await relay.deliver() == 0


async def test_a_failing_follower_holds_nobody_up(database: Database, clock: ManualClock) -> None:
    relay = Relay(database, clock)
    seen: list[str] = []

    async def fails(number: int, fact: Fact) -> None:
        raise ValueError(fact.topic)

    async def follower(number: int, fact: Fact) -> None:
        seen.append(fact.topic)

    relay.follow("", fails)
    relay.follow("", follower)
    await database.writer.add(
        change(Fact(topic="a", at=clock.now())), change(Fact(topic="b", at=clock.now()))
    )
    await relay.deliver()
    assert seen == ["a", "b"]


async def test_what_was_not_marked_is_told_again(database: Database, clock: ManualClock) -> None:
    seen: list[int] = []

    async def follower(number: int, fact: Fact) -> None:
        seen.append(number)
        if len(seen) == 1:
            raise KeyboardInterrupt  # the process dies between the follower's work and the mark

    await database.writer.add(change(Fact(topic="a", at=clock.now())))
    first = Relay(database, clock)
    first.follow("", follower)
    with contextlib.suppress(KeyboardInterrupt):
        await first.deliver()
    second = Relay(database, clock)
    second.follow("", follower)
    assert await second.deliver() == 1
    assert len(seen) == 2
    assert seen[0] == seen[1]


async def test_a_commit_wakes_the_relay(database: Database, clock: ManualClock) -> None:
    relay = Relay(database, clock, interval_s=3600)
    seen: asyncio.Queue[str] = asyncio.Queue()

    async def follower(number: int, fact: Fact) -> None:
        seen.put_nowait(fact.topic)

    relay.follow("", follower)
    database.on_facts(relay.wake)
    tasks = Tasks()
    relay.start(tasks)
    await database.writer.add(change(Fact(topic="by.writer", at=clock.now())))
    assert await asyncio.wait_for(seen.get(), 10) == "by.writer"
    async with database.write() as connection:
        await put(connection, Fact(topic="by.hand", at=clock.now()))
    assert await asyncio.wait_for(seen.get(), 10) == "by.hand"
    await tasks.close()
