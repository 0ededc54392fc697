"""`phaseyard books …`: whether the books hold."""

from typing import Annotated

import typer

from api.cli.opened import with_central
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from csms.app import Central
from csms.ledger.books.service import MonthProof
from csms.ledger.proof import Check

books = typer.Typer(no_args_is_help=True, help="The books: whether what was billed adds up.")

Site = Annotated[str, typer.Argument(help="The site's id.", show_default=False)]


@books.callback()
def main() -> None:
    """The books: whether what was billed adds up."""


@books.command()
def check(
    site: Site,
    first: Annotated[str | None, typer.Option("--from", help="First month, e.g. 2026-01.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last month.")] = None,
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Run the ten reconciliations over issued months and print each with its figures.

    Exit 1 when one fails, 2 when the question makes no sense.
    """
    settings = settings_or_fail(config, data_dir=data_dir, database_url=database_url)

    async def work(central: Central) -> tuple[MonthProof, ...]:
        return await central.ledger.books.check(site, first, last)

    months = with_central(settings, work)
    if not months:
        typer.echo("No month has been issued.")
    for month in months:
        typer.echo(
            f"{month.period}" + ("  (something came late; the next statements correct it)" * month.late)
        )
        for each in month.checks:
            typer.echo(_line(each))
    failed = [(month.period, each.name) for month in months for each in month.checks if each.failed]
    if failed:
        typer.echo(f"{len(failed)} of {10 * len(months)} checks fail.", err=True)
        raise typer.Exit(1)
    if months:
        typer.echo(f"All checks of {len(months)} months hold.")


def _line(check: Check) -> str:
    figures = "; ".join(f"{f.label} {f.value} {f.unit}".strip() for f in check.figures)
    name = check.name.value.replace("_", " ")
    return f"  {check.verdict.value:<12}  {name:<13}  {check.words}" + (f"  [{figures}]" if figures else "")
