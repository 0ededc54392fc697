"""Brings a database's tables up to date, from the first table on.

Alembic is imported only here and only when used: it costs most of a second.
"""

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection

from csms.store.tables import metadata

if TYPE_CHECKING:
    from alembic.config import Config

FOLDER = Path(__file__).with_name("migrations")


def bring_up_to_date(connection: Connection) -> None:
    """Run every migration that is missing."""
    from alembic import command

    command.upgrade(config(connection), "head")


def differences(connection: Connection) -> list[object]:
    """What a new migration would have to do; empty when tables and code agree."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    context = MigrationContext.configure(connection, opts={"compare_type": True})
    return list(compare_metadata(context, metadata))


def config(connection: Connection) -> "Config":
    """Alembic's settings without an ini file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(FOLDER))
    config.attributes["connection"] = connection
    return config
