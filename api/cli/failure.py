"""How a command says no: one line on standard error, exit code 2."""

from typing import NoReturn

import typer


def fail(message: object) -> NoReturn:
    """End the command; `message` names the field and says what to do."""
    typer.echo(str(message).replace("\n", " "), err=True)
    raise typer.Exit(2)
