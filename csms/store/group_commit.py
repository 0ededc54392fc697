"""One commit for many stations.

A station may be answered only when what it said is on disk, and a disk sync per message
would be the end of speed. So all stations hand their work to one writer. It takes whatever
has gathered while the last commit was under way, puts it into one transaction, commits once,
and then lets every producer go on: each of them has waited for exactly its own commit.

Two kinds of work. `add` takes changes (a statement and its parameters); equal statements of
one group become one executemany. `run` takes a function that reads and writes as it likes.
When a group fails it is rolled back and each piece is done again alone, so that a faulty one
fails by itself and nobody else's is lost.
"""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from sqlalchemy import Executable
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine

from csms.store import outbox
from csms.store.change import Change
from csms.tasks import Tasks

__all__ = ["Change", "GroupCommit", "Work"]

T = TypeVar("T")
Work = Callable[[AsyncConnection], Awaitable[T]]

LARGEST_GROUP = 500


@dataclass(slots=True)
class _Piece:
    done: asyncio.Future[Any]
    work: Work[Any] | None = None
    changes: Sequence[Change] = ()


class GroupCommit:
    """The writer. `start` before use; `close` finishes what was handed in."""

    def __init__(self, engine: AsyncEngine, tasks: Tasks, told: Callable[[], None] = lambda: None) -> None:
        self._engine = engine
        self._told = told
        self._tasks = tasks
        self._waiting: list[_Piece] = []
        self._wake = asyncio.Event()
        self._closing = False
        self._task: asyncio.Task[None] | None = None
        self.commits = 0
        self.pieces = 0

    def start(self) -> None:
        self._task = self._tasks.spawn(self._loop(), "group commit")

    async def close(self) -> None:
        self._closing = True
        self._wake.set()
        if self._task is not None:
            await self._task

    async def add(self, *changes: Change) -> None:
        """Commit `changes`; returns when they are on disk."""
        await self._hand_in(_Piece(asyncio.get_running_loop().create_future(), changes=changes))

    async def run(self, work: Work[T]) -> T:
        """Run `work` in a transaction of the writer and return its result after the commit.

        `work` may be run a second time when its group failed: it must not touch anything
        but the connection it is given.
        """
        return cast(T, await self._hand_in(_Piece(asyncio.get_running_loop().create_future(), work=work)))

    async def _hand_in(self, piece: _Piece) -> Any:
        if self._closing:
            raise RuntimeError("the writer is closed")
        self._waiting.append(piece)
        self._wake.set()
        return await piece.done

    async def _loop(self) -> None:
        while True:
            if not self._waiting:
                if self._closing:
                    return
                self._wake.clear()
                await self._wake.wait()
                continue
            group, self._waiting = self._waiting[:LARGEST_GROUP], self._waiting[LARGEST_GROUP:]
            await self._commit(group)

    async def _commit(self, group: list[_Piece]) -> None:
        try:
            results, told = await self._transact(group)
        except Exception as error:
            if len(group) == 1:
                if not group[0].done.done():
                    group[0].done.set_exception(error)
                return
            for piece in group:
                await self._commit([piece])
            return
        self.commits += 1
        self.pieces += len(group)
        for piece, result in zip(group, results, strict=True):
            if not piece.done.done():
                piece.done.set_result(result)
        if told:
            self._told()

    async def _transact(self, group: list[_Piece]) -> tuple[list[Any], bool]:
        results: list[Any] = []
        changes: dict[int, tuple[Executable, list[dict[str, Any]]]] = {}
        async with self._engine.begin() as connection:
            connection.info.pop(outbox.TOLD, None)
            for piece in group:
                results.append(await piece.work(connection) if piece.work else None)
                for change in piece.changes:
                    key = id(change.statement)
                    if key not in changes:
                        changes[key] = (change.statement, [])
                    changes[key][1].append(change.values)
            for statement, rows in changes.values():
                await connection.execute(statement, rows)
            told = connection.info.pop(outbox.TOLD, False) or id(outbox.INSERT) in changes
        return results, told
