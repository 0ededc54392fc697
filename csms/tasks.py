"""Background tasks that are kept, seen to fail, and ended in order.

A bare `asyncio.create_task` may be collected in mid-flight, and its exception is shown to
nobody. A `Tasks` holds the references, logs a failure at once, and cancels what is left.
"""

import asyncio
import logging
from collections.abc import Coroutine
from typing import Any, TypeVar

log = logging.getLogger(__name__)
T = TypeVar("T")
CANCEL_AGAIN_S = 1.0


class Tasks:
    """A set of tasks with one owner."""

    def __init__(self) -> None:
        self._tasks: set[asyncio.Task[Any]] = set()

    def __len__(self) -> int:
        return len(self._tasks)

    def spawn(self, coro: Coroutine[Any, Any, T], name: str) -> asyncio.Task[T]:
        """Start `coro`; a failure is logged under `name` and ends only that task."""
        task = asyncio.create_task(coro, name=name)
        self._tasks.add(task)
        task.add_done_callback(self._done)
        return task

    def _done(self, task: asyncio.Task[Any]) -> None:
        self._tasks.discard(task)
        if not task.cancelled() and (error := task.exception()) is not None:
            log.error("task %s failed", task.get_name(), exc_info=error)

    async def close(self) -> None:
        """Cancel what still runs and wait until it has ended.

        Again and again: a task that is cancelled in the very moment in which what it waited for
        comes true may not notice (`asyncio.wait_for` before Python 3.12).
        """
        while self._tasks:
            tasks = list(self._tasks)
            for task in tasks:
                task.cancel()
            await asyncio.wait(tasks, timeout=CANCEL_AGAIN_S)
