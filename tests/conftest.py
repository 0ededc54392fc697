"""What every test may ask for: the two databases, and a clock that stands still."""

import itertools
import shutil
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from csms.clock import ManualClock
from csms.store.database import Database
from tests.postgresql import PostgreSQL

NOON = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
"""Where the standing clock begins: a Monday, noon in Weavers' Yard."""

_numbers = itertools.count()


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL]:
    server = PostgreSQL()
    yield server
    server.stop()


@pytest.fixture(scope="session")
async def postgresql_template(postgresql: PostgreSQL) -> str:
    """Name of a database with all tables, to be cloned."""
    postgresql.execute("CREATE DATABASE stencil")
    database = Database(postgresql.url("stencil"))
    await database.open()
    await database.close()
    return "stencil"


@pytest.fixture(scope="session")
async def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with all tables, to be copied."""
    path = tmp_path_factory.mktemp("stencil") / "stencil.db"
    database = Database(f"sqlite+aiosqlite:///{path}")
    await database.open()
    await database.close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an empty database of either kind; a test that asks for it runs on both."""
    if request.param == "sqlite":
        template: Path = request.getfixturevalue("sqlite_template")
        path = tmp_path / "phaseyard.db"
        shutil.copyfile(template, path)
        yield f"sqlite+aiosqlite:///{path}"
        return
    server: PostgreSQL = request.getfixturevalue("postgresql")
    stencil: str = request.getfixturevalue("postgresql_template")
    name = f"test_{next(_numbers)}"
    server.execute(f"CREATE DATABASE {name} TEMPLATE {stencil} STRATEGY file_copy")
    yield server.url(name)
    server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
async def database(database_url: str) -> AsyncIterator[Database]:
    """An opened, empty database of either kind."""
    opened = Database(database_url)
    await opened.open()
    yield opened
    await opened.close()


@pytest.fixture
def clock() -> ManualClock:
    """A clock that stands at NOON until it is moved."""
    return ManualClock(NOON)
