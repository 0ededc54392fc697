"""`phaseyard person …`: people who sign in to the pages."""

import sys
from typing import Annotated

import typer

from api.cli.opened import with_database
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from csms.access.people.principal import Role
from csms.access.people.repository import Person
from csms.access.people.service import PeopleService
from csms.clock import SystemClock
from csms.store.database import Database

person = typer.Typer(no_args_is_help=True, help="People who sign in to the pages.")

Name = Annotated[str, typer.Option("--name", help="The name to sign in with.", show_default=False)]
FromStdin = Annotated[
    bool, typer.Option("--password-stdin", help="Read the password from standard input, one line.")
]


@person.command()
def create(
    name: Name,
    role: Annotated[Role, typer.Option("--role", help="`reader` may only look.")] = Role.MANAGER,
    password_stdin: FromStdin = False,
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Let somebody sign in; asks for their password."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)
    password = _password(password_stdin)

    async def work(database: Database) -> None:
        await PeopleService(database, SystemClock()).create(name, password, role)

    with_database(settings, work)


@person.command()
def password(
    name: Name,
    password_stdin: FromStdin = False,
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Give somebody a new password; ends their sign-ins."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)
    new = _password(password_stdin)

    async def work(database: Database) -> None:
        await PeopleService(database, SystemClock()).set_password(name, new)

    with_database(settings, work)


@person.command("list")
def list_(config: Config = None, data_dir: DataDir = None, database_url: DatabaseUrl = None) -> None:
    """Print each one's name, role, and since when."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> tuple[Person, ...]:
        return await PeopleService(database, SystemClock()).list()

    for each in with_database(settings, work):
        typer.echo("\t".join((each.name, each.role, each.created_at.isoformat(timespec="seconds"))))


@person.command()
def remove(
    name: Name, config: Config = None, data_dir: DataDir = None, database_url: DatabaseUrl = None
) -> None:
    """Let somebody sign in no more, and sign them out."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> None:
        await PeopleService(database, SystemClock()).remove(name)

    with_database(settings, work)


def _password(from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))
