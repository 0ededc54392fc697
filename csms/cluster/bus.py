"""Live news inside one process: fire and forget, the newest wins.

A follower that is too slow loses the oldest news, never the newest; the producer never waits.
"""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from typing import Any

DEPTH = 64


class Follower(AsyncIterator[Any]):
    """What has come on one topic and is not yet taken. Waiting may be given up and taken up again."""

    def __init__(self) -> None:
        self._news: deque[Any] = deque(maxlen=DEPTH)
        self._something = asyncio.Event()
        self._closed = False

    def put(self, news: Any) -> None:
        self._news.append(news)
        self._something.set()

    def close(self) -> None:
        """No more will come; what is here can still be taken."""
        self._closed = True
        self._something.set()

    async def __anext__(self) -> Any:
        await self._something.wait()
        if not self._news:
            raise StopAsyncIteration
        news = self._news.popleft()
        if not self._news and not self._closed:
            self._something.clear()
        return news

    async def changes(self, at_most_s: float) -> bool:
        """Wait for news, but not longer than `at_most_s`, and take all of it; False: no more will come.

        For those who look at the whole anew whatever the news is.
        """
        try:
            async with asyncio.timeout(at_most_s):
                await self._something.wait()
        except TimeoutError:
            return True
        self._news.clear()
        if not self._closed:
            self._something.clear()
        return not self._closed


class Bus:
    """Topics are plain strings, e.g. `site:weavers-yard`."""

    def __init__(self) -> None:
        self._followers: dict[str, set[Follower]] = {}
        self._closed = False

    def publish(self, topic: str, news: Any) -> None:
        """Give `news` to everyone who follows `topic` now."""
        for follower in self._followers.get(topic, ()):
            follower.put(news)

    @contextmanager
    def follow(self, topic: str) -> Iterator[Follower]:
        """News of `topic` from now on, until the block ends."""
        follower = Follower()
        if self._closed:
            follower.close()
        followers = self._followers.setdefault(topic, set())
        followers.add(follower)
        try:
            yield follower
        finally:
            followers.discard(follower)
            if not followers and self._followers.get(topic) is followers:
                del self._followers[topic]

    def close(self) -> None:
        """End every follower's stream, so that open pages do not hold up the end of the process."""
        self._closed = True
        for followers in self._followers.values():
            for follower in followers:
                follower.close()

    def followers(self, topic: str) -> int:
        """How many follow `topic`."""
        return len(self._followers.get(topic, ()))
