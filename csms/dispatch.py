"""Who answers what: a table from a type to the one handler that owns it.

Features do not call each other sideways. The gateway asks a question or tells an event by
its type; `app` has registered the owner. A type without an owner is our own fault and is
found when the table is sealed, not when the first station asks.
"""

import logging
from collections.abc import Awaitable, Callable, Iterable
from datetime import datetime
from typing import Any, TypeVar

from csms.errors import OurFault

log = logging.getLogger(__name__)
Q = TypeVar("Q")
Handler = Callable[[str, Any, datetime], Awaitable[Any]]
Listener = Callable[[str, Any, datetime], Awaitable[None]]


class Dispatcher:
    """Routes what a station says. `handle` gives one owner, `listen` any number of followers."""

    def __init__(self) -> None:
        self._owners: dict[type[object], Handler] = {}
        self._listeners: dict[type[object], list[Listener]] = {}

    def handle(self, kind: type[Q], handler: Callable[[str, Q, datetime], Awaitable[Any]]) -> None:
        """Make `handler` the owner of `kind`; there can be one only."""
        if kind in self._owners:
            raise OurFault(f"{kind.__name__} has two owners")
        self._owners[kind] = handler

    def listen(self, kind: type[Q], listener: Callable[[str, Q, datetime], Awaitable[None]]) -> None:
        """Call `listener` after the owner has committed; it must not fail the answer."""
        self._listeners.setdefault(kind, []).append(listener)

    def unowned(self, kinds: Iterable[type[object]]) -> list[str]:
        """Names of the kinds that nobody owns."""
        return [kind.__name__ for kind in kinds if kind not in self._owners]

    async def ask(self, station_id: str, question: object, now: datetime) -> Any:
        """The owner's answer to what `station_id` said at `now`. Returns when it is committed."""
        owner = self._owners.get(type(question))
        if owner is None:
            raise OurFault(f"nobody owns {type(question).__name__}")
        answer = await owner(station_id, question, now)
        for listener in self._listeners.get(type(question), ()):
            try:
                await listener(station_id, question, now)
            except Exception:
                log.exception("a follower of %s failed", type(question).__name__)
        return answer
