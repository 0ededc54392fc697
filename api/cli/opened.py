"""The database, or all services over it, for a command that runs without the server."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeVar

from api.cli.failure import fail
from csms.app import Central
from csms.errors import PhaseyardError
from csms.settings import Settings
from csms.store.database import Database

T = TypeVar("T")


def with_database(settings: Settings, work: Callable[[Database], Awaitable[T]]) -> T:
    """What `work` gives. What is wrong ends the command, in one line on standard error."""

    async def run() -> T:
        database = Database(settings.url)
        try:
            await database.open()
            return await work(database)
        finally:
            await database.close()

    try:
        return asyncio.run(run())
    except PhaseyardError as error:
        fail(error)


def with_central(settings: Settings, work: Callable[[Central], Awaitable[T]]) -> T:
    """What `work` gives, with every service there and none of them started: no socket, no task of its own.

    What is wrong ends the command, in one line on standard error.
    """

    async def run() -> T:
        central = Central(settings)
        try:
            await central.database.open()
            return await work(central)
        finally:
            await central.tasks.close()
            await central.database.close()

    try:
        return asyncio.run(run())
    except PhaseyardError as error:
        fail(error)
