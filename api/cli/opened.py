"""The database for a command that needs nothing else of the server."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeVar

from api.cli.failure import fail
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
