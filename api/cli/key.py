"""`phaseyard key …`: keys with which programs use the REST interface."""

from typing import Annotated

import typer

from api.cli.opened import with_database
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from csms.access.keys.repository import ApiKey
from csms.access.keys.service import KeysService
from csms.access.people.principal import Role
from csms.clock import SystemClock
from csms.store.database import Database

key = typer.Typer(no_args_is_help=True, help="Keys with which programs use the REST interface.")

Name = Annotated[str, typer.Option("--name", help="What the key is for.", show_default=False)]


@key.command()
def create(
    name: Name,
    role: Annotated[Role, typer.Option("--role", help="`reader` may only look.")] = Role.MANAGER,
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Make a key and print it, this once."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> str:
        return await KeysService(database, SystemClock()).create(name, role)

    typer.echo(with_database(settings, work))


@key.command("list")
def list_(config: Config = None, data_dir: DataDir = None, database_url: DatabaseUrl = None) -> None:
    """Print each key's name, role, state, and when it was made and last used; never the key."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> tuple[ApiKey, ...]:
        return await KeysService(database, SystemClock()).list()

    for each in with_database(settings, work):
        used = each.last_used_at.isoformat(timespec="seconds") if each.last_used_at else "never"
        state = "revoked" if each.revoked else "good"
        typer.echo(
            "\t".join((each.name, each.role, state, each.created_at.isoformat(timespec="seconds"), used))
        )


@key.command()
def revoke(
    name: Name, config: Config = None, data_dir: DataDir = None, database_url: DatabaseUrl = None
) -> None:
    """From now on the key opens nothing."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> None:
        await KeysService(database, SystemClock()).revoke(name)

    with_database(settings, work)
