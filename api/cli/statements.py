"""`phaseyard statements …`: the documents of an issued month, made and written to a folder."""

from pathlib import Path
from typing import Annotated

import typer

from api.cli.failure import fail
from api.cli.opened import with_central
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from csms.app import Central
from csms.documents.document import Progress
from csms.documents.language import Language, check_language
from csms.documents.spreadsheet import as_csv, as_xlsx
from csms.errors import InvalidInput
from csms.ledger.period import Month

statements = typer.Typer(
    no_args_is_help=True, help="Documents of an issued month: PDFs, and the rent ledger's table."
)

SiteId = Annotated[str, typer.Argument(help="The site's id.", show_default=False)]
Period = Annotated[str, typer.Argument(help="The month, such as 2026-11.", show_default=False)]


@statements.command()
def make(
    site_id: SiteId,
    period: Period,
    out: Annotated[
        Path | None, typer.Option(help="Write the PDFs into this folder as well", metavar="FOLDER")
    ] = None,
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Make the month's documents. Those that are there stay: a run that was stopped goes on where it was.

    Exit 0 when all are made, 1 when some could not be, 2 when nothing could be tried.
    """
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)
    month = str(_month(period))

    async def work(central: Central) -> Progress:
        await central.sites.get_site(site_id)
        before = await central.documents.progress(site_id, month)
        if not before.statements:
            raise InvalidInput("period", f"no statement is issued for {month}; issue the month first")
        label = f"{before.statements} documents"
        with typer.progressbar(length=before.statements, label=label) as bar:
            shown = 0

            def tell(progress: Progress) -> None:
                nonlocal shown
                tried = progress.made + len(progress.failures)
                bar.update(tried - shown)
                shown = tried

            done = await central.documents.make(site_id, month, tell)
        if out is not None:
            await _write_all(central, site_id, month, out)
        return done

    done = with_central(settings, work)
    for failure in done.failures:
        typer.echo(f"{failure.number} {failure.member_name}: {failure.problem}", err=True)
    typer.echo(f"{done.made} of {done.statements} documents are made")
    if not done.complete:
        raise typer.Exit(1)


@statements.command()
def table(
    site_id: SiteId,
    period: Period,
    out: Annotated[Path, typer.Option(help="File to write: .csv or .xlsx", metavar="FILE")],
    language: Annotated[
        str, typer.Option(help="Language of columns without a name; the site's if left out")
    ] = "",
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Write the month's statements as the table that the site's rent ledger takes."""
    if out.suffix not in (".csv", ".xlsx"):
        fail("--out: the name must end in .csv or .xlsx")
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)
    month = str(_month(period))
    spoken = _language(language)

    async def work(central: Central) -> bytes:
        made = await central.documents.rent_ledger(site_id, month, spoken)
        if out.suffix == ".xlsx":
            return as_xlsx(made, _month(period).after.first)
        wanted = await central.documents.settings(site_id)
        return as_csv(made, separator=wanted.separator, decimal_sign=wanted.decimal_sign).encode()

    _write(out, with_central(settings, work))
    typer.echo(f"written to {out}")


async def _write_all(central: Central, site_id: str, month: str, folder: Path) -> None:
    for document in await central.documents.of_month(site_id, month):
        if not document.problem:
            _write(folder / document.file_name, await central.documents.pdf(document.statement_id))


def _write(file: Path, content: bytes) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    except OSError as error:
        fail(f"--out: {file} cannot be written: {error.strerror}")


def _month(period: str) -> Month:
    try:
        return Month.parse(period)
    except InvalidInput as error:
        fail(error)


def _language(language: str) -> Language | None:
    try:
        return check_language("--language", language) if language else None
    except InvalidInput as error:
        fail(error)
