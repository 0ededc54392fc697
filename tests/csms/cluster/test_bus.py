"""Live news: the newest wins, the producer never waits."""

import asyncio

from csms.cluster.bus import DEPTH, Bus


async def test_followers_get_what_comes_while_they_follow() -> None:
    bus = Bus()
    bus.publish("site:a", "before")
    with bus.follow("site:a") as news:
        bus.publish("site:a", 1)
        bus.publish("site:b", "other")
        bus.publish("site:a", 2)
        assert [await anext(news), await anext(news)] == [1, 2]
        assert bus.followers("site:a") == 1
    assert bus.followers("site:a") == 0


async def test_a_slow_follower_loses_the_oldest() -> None:
    bus = Bus()
    with bus.follow("t") as news:
        for number in range(DEPTH + 10):
            bus.publish("t", number)
        assert await asyncio.wait_for(anext(news), 1) == 10


async def test_close_ends_the_streams() -> None:
    bus = Bus()
    with bus.follow("t") as news:
        bus.publish("t", "last")
        bus.close()
        assert [item async for item in news] == ["last"]


async def test_who_comes_after_the_end_is_not_left_waiting() -> None:
    bus = Bus()
    bus.close()
    with bus.follow("t") as news:
        assert [item async for item in news] == []
        assert await news.changes(60) is False


async def test_waiting_can_be_given_up_and_taken_up_again() -> None:
    bus = Bus()
    with bus.follow("t") as news:
        assert await news.changes(0.01) is True
        bus.publish("t", 1)
        bus.publish("t", 2)
        assert await news.changes(60) is True
        bus.publish("t", 3)
        assert await anext(news) == 3, "what was there before was taken as a whole"
        bus.close()
        assert await news.changes(60) is False
