"""What differs between the two databases; the only place that asks which one it is."""

from typing import Any

from sqlalchemy import BigInteger, Table, event, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine, create_async_engine
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.pool import ConnectionPoolEntry
from sqlalchemy.sql.functions import FunctionElement

from csms.errors import InvalidInput

SQLITE = "sqlite"
POSTGRESQL = "postgresql"


def open_engines(url: str) -> tuple[AsyncEngine, AsyncEngine]:
    """The engine to write with and the engine to read with.

    SQLite has one writer at a time, so its write engine has one connection and takes the
    lock at once (BEGIN IMMEDIATE): a transaction that reads first and upgrades later fails
    on a busy database whatever the timeout. Readers see the last commit (WAL). PostgreSQL
    uses one engine for both.
    Raises InvalidInput when the URL is of neither kind.
    """
    if url.startswith("sqlite+aiosqlite:"):
        writer = create_async_engine(url, pool_size=1, max_overflow=0, pool_timeout=60)
        reader = create_async_engine(url, pool_size=4, max_overflow=4)
        _prepare_sqlite(writer, begin="BEGIN IMMEDIATE")
        _prepare_sqlite(reader, begin="BEGIN")
        return writer, reader
    if url.startswith("postgresql+asyncpg:"):
        engine = create_async_engine(url, pool_size=8, max_overflow=8, pool_pre_ping=True)
        return engine, engine
    raise InvalidInput("database_url", "give sqlite+aiosqlite:///FILE or postgresql+asyncpg://USER@HOST/NAME")


def _prepare_sqlite(engine: AsyncEngine, begin: str) -> None:
    @event.listens_for(engine.sync_engine, "connect")
    def on_connect(connection: Any, _record: ConnectionPoolEntry) -> None:
        # The driver must not begin transactions by itself: it would use the lazy BEGIN.
        connection.isolation_level = None
        cursor = connection.cursor()
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "busy_timeout=10000", "foreign_keys=ON"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine.sync_engine, "begin")
    def on_begin(connection: Any) -> None:
        connection.exec_driver_sql(begin)


class whole_seconds(FunctionElement[int]):
    """An instant as whole seconds since 1970, rounded down."""

    type = BigInteger()
    inherit_cache = True
    name = "whole_seconds"


@compiles(whole_seconds, SQLITE)
def _sqlite_seconds(element: whole_seconds, compiler: Any, **more: Any) -> str:
    return f"CAST(strftime('%s', {compiler.process(element.clauses, **more)}) AS INTEGER)"


@compiles(whole_seconds, POSTGRESQL)
def _postgresql_seconds(element: whole_seconds, compiler: Any, **more: Any) -> str:
    return f"CAST(floor(extract(epoch FROM {compiler.process(element.clauses, **more)})) AS BIGINT)"


def upsert(dialect: str, table: Table) -> Any:
    """An INSERT for `table` that has `on_conflict_do_update` and `on_conflict_do_nothing`."""
    return sqlite.insert(table) if dialect == SQLITE else postgresql.insert(table)


async def hold_still(connection: AsyncConnection) -> None:
    """Let a transaction that has not read yet see one state of the database until it ends.

    SQLite's always do; PostgreSQL's see whatever was committed before each statement.
    """
    if connection.dialect.name == POSTGRESQL:
        await connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
