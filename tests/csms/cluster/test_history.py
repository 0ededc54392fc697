"""Facts are read back, the newest first."""

from csms.clock import ManualClock
from csms.cluster.history import History
from csms.store.database import Database
from csms.store.outbox import Fact, put


async def test_facts_come_newest_first_page_by_page(database: Database, clock: ManualClock) -> None:
    async with database.write() as connection:
        for number in range(5):
            await put(
                connection,
                Fact(
                    topic="session.began", at=clock.now(), site_id="yard", subject="CP-1", body={"n": number}
                ),
            )
    history = History(database)
    first = await history.latest(limit=2)
    second = await history.latest(limit=2, after=first.next)
    last = await history.latest(limit=2, after=second.next)
    assert [fact.body["n"] for page in (first, second, last) for fact in page.items] == [4, 3, 2, 1, 0]
    assert last.next is None
    assert first.items[0].at == clock.now()


async def test_facts_are_narrowed_by_site_topic_and_subject(database: Database, clock: ManualClock) -> None:
    async with database.write() as connection:
        await put(
            connection,
            Fact(topic="session.began", at=clock.now(), site_id="yard", subject="CP-1"),
            Fact(topic="session_x", at=clock.now(), site_id="yard", subject="CP-1"),
            Fact(topic="station.booted", at=clock.now(), site_id="mill", subject="CP-2"),
            Fact(topic="node.started", at=clock.now()),
        )
    history = History(database)

    async def topics(**narrowed: str) -> list[str]:
        return [fact.topic for fact in (await history.latest(**narrowed)).items]  # type: ignore[arg-type]

    assert await topics(site_id="mill") == ["station.booted"]
    assert await topics(site_id="yard", topic="session.") == ["session.began"]
    assert await topics(topic="session_") == ["session_x"]
    assert await topics(subject="CP-1") == ["session_x", "session.began"]
    assert await topics(topic="%") == []
    assert len(await topics()) == 4
