"""`phaseyard site …`: a site as one file."""

import json
from pathlib import Path
from typing import Annotated

import typer

from api.cli.failure import fail
from api.cli.opened import with_database
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from csms.clock import SystemClock
from csms.sitefile.report import as_data, as_text, check_text
from csms.sitefile.service import Imported, site_files
from csms.store.database import Database

site = typer.Typer(no_args_is_help=True, help="A site as one file: check it, take it in, write it out.")

File = Annotated[Path, typer.Argument(help="A site file (YAML).", show_default=False)]


@site.command()
def check(
    file: File,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Report every electrical inconsistency with its place in the file.

    Exit 0 when the site is safe, 1 when it is not, 2 when the file cannot be read.
    """
    report = check_text(_read(file))
    if as_json:
        typer.echo(json.dumps(as_data(report, str(file)), indent=2, ensure_ascii=False))
    else:
        typer.echo(as_text(report, str(file)), err=not report.readable)
    if not report.safe:
        raise typer.Exit(1 if report.readable else 2)


@site.command("import")
def import_(
    file: File, config: Config = None, data_dir: DataDir = None, database_url: DatabaseUrl = None
) -> None:
    """Put the site into the database: what is new is created, what is there is updated, the rest stays.

    A new site gives no power before it is made active.
    """
    text = _read(file)
    report = check_text(text)
    if not report.safe:
        typer.echo(as_text(report, str(file)), err=True)
        raise typer.Exit(1 if report.readable else 2)
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> Imported:
        files = site_files(database, SystemClock(), settings.delta_margin_percent)
        return await files.bring_in(text)

    done = with_database(settings, work)
    typer.echo(f"{done.site_id}: {len(done.touched)} new or changed: {', '.join(done.touched) or 'nothing'}")
    if done.untouched:
        typer.echo(f"not in the file, left as they are: {', '.join(done.untouched)}")


@site.command()
def export(
    site_id: Annotated[str, typer.Argument(help="The site's id.", show_default=False)],
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Print the site as a file that `import` takes."""
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(database: Database) -> str:
        return await site_files(database, SystemClock(), settings.delta_margin_percent).write_out(site_id)

    typer.echo(with_database(settings, work), nl=False)


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except OSError as error:
        fail(f"{file}: cannot be read: {error.strerror}")
    except UnicodeDecodeError as error:
        fail(f"{file}: is not UTF-8 text: byte {error.start + 1} is none")
