"""Live news inside one process: fire and forget, the newest wins.

A follower that is too slow loses the oldest news, never the newest; the producer never waits.
"""

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from typing import Any

DEPTH = 64
_END = object()


class Bus:
    """Topics are plain strings, e.g. `site:weavers-yard`."""

    def __init__(self) -> None:
        self._followers: dict[str, set[asyncio.Queue[Any]]] = {}

    def publish(self, topic: str, news: Any) -> None:
        """Give `news` to everyone who follows `topic` now."""
        for queue in self._followers.get(topic, ()):
            if queue.full():
                queue.get_nowait()
            queue.put_nowait(news)

    @contextmanager
    def follow(self, topic: str) -> Iterator[AsyncIterator[Any]]:
        """News of `topic` from now on, until the block ends."""
        queue: asyncio.Queue[Any] = asyncio.Queue(DEPTH)
        followers = self._followers.setdefault(topic, set())
        followers.add(queue)
        try:
            yield _drain(queue)
        finally:
            followers.discard(queue)
            if not followers:
                self._followers.pop(topic, None)

    def close(self) -> None:
        """End every follower's stream, so that open pages do not hold up the end of the process."""
        for queues in self._followers.values():
            for queue in queues:
                if queue.full():
                    queue.get_nowait()
                queue.put_nowait(_END)

    def followers(self, topic: str) -> int:
        """How many follow `topic`."""
        return len(self._followers.get(topic, ()))


async def _drain(queue: asyncio.Queue[Any]) -> AsyncIterator[Any]:
    while (news := await queue.get()) is not _END:
        yield news
