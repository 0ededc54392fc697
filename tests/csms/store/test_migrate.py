"""Migrations give what the tables say, on both databases, forwards and backwards."""

from alembic import command
from sqlalchemy import Connection, inspect

from csms.store.database import Database
from csms.store.migrate import bring_up_to_date, config, differences
from csms.store.tables import metadata


async def test_tables_and_migrations_agree(database: Database) -> None:
    async with database.write() as connection:
        assert await connection.run_sync(differences) == []


async def test_down_to_nothing_and_up_again(database: Database) -> None:
    def tables(connection: Connection) -> set[str]:
        return set(inspect(connection).get_table_names()) - {"alembic_version"}

    def down(connection: Connection) -> None:
        command.downgrade(config(connection), "base")

    async with database._write_engine.connect() as connection:
        assert await connection.run_sync(tables) == set(metadata.tables)
        await connection.run_sync(down)
        assert await connection.run_sync(tables) == set()
        await connection.run_sync(bring_up_to_date)
        assert await connection.run_sync(tables) == set(metadata.tables)
