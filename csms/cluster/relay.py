"""Hands the outbox's facts to their followers: after the commit, in order, at least once.

Marking facts as handled is itself a commit, so that a look follows which finds nothing: cheap.

A follower may see a fact twice (we may die between its work and the mark) and must not mind.
One that fails is logged and does not hold up the others: it is told again after a restart
only if the mark was not written, so what must not be lost belongs into a table of its own.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable

from sqlalchemy import select, update

from csms.clock import Clock
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.store.tables.system import outbox
from csms.tasks import Tasks

log = logging.getLogger(__name__)
Follower = Callable[[int, Fact], Awaitable[None]]

AT_ONCE = 200
BREATH_S = 0.05


class Relay:
    """Polls on a wake-up and at least every `interval_s` (a fact of a process that died)."""

    def __init__(self, database: Database, clock: Clock, interval_s: float = 5.0) -> None:
        self._database = database
        self._clock = clock
        self._interval_s = interval_s
        self._followers: list[tuple[str, Follower]] = []
        self._wake = asyncio.Event()

    def follow(self, prefix: str, follower: Follower) -> None:
        """Call `follower` with (row id, fact) for every topic that begins with `prefix`."""
        self._followers.append((prefix, follower))

    def wake(self) -> None:
        """There may be something new."""
        self._wake.set()

    def start(self, tasks: Tasks) -> None:
        tasks.spawn(self._loop(), "outbox relay")

    async def _loop(self) -> None:
        while True:
            self._wake.clear()
            while await self.deliver():
                pass
            # Under load every commit wakes us: a few looks a second are enough for all of them.
            await asyncio.sleep(BREATH_S)
            try:
                async with asyncio.timeout(self._interval_s):
                    await self._wake.wait()
            except TimeoutError:
                continue

    async def deliver(self) -> int:
        """Hand on what is waiting, at most a batch; the number handed on."""
        query = select(outbox).where(outbox.c.handled_at.is_(None)).order_by(outbox.c.id).limit(AT_ONCE)
        async with self._database.read() as connection:
            rows = (await connection.execute(query)).all()
        for row in rows:
            fact = Fact(topic=row.topic, at=row.at, site_id=row.site_id, subject=row.subject, body=row.body)
            for prefix, follower in self._followers:
                if not row.topic.startswith(prefix):
                    continue
                try:
                    await follower(row.id, fact)
                except Exception:
                    log.exception("a follower of %s failed", row.topic)
        if rows:
            done = update(outbox).where(outbox.c.id.in_([row.id for row in rows]))
            async with self._database.write() as connection:
                await connection.execute(done.values(handled_at=self._clock.now()))
        return len(rows)
