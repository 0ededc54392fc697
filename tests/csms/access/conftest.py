"""A database with Weavers' Yard in it."""

import pytest

from csms.store.database import Database
from tests.csms.yard import build_yard


@pytest.fixture
async def yard(database: Database) -> Database:
    await build_yard(database)
    return database
