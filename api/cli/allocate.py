"""`phaseyard allocate FILE.json`: the what-if for an electrician."""

import json
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from csms.errors import InvalidInput
from csms.power.sharing.whatif import what_if


def _refuse(line: str) -> NoReturn:
    typer.echo(line, err=True)
    raise typer.Exit(2)


def allocate(
    file: Annotated[Path, typer.Argument(help="A supply and its cars as JSON.", show_default=False)],
    step_a: Annotated[float, typer.Option(help="Step of the stations in A; 0 is exact.")] = 0.0,
) -> None:
    """Share a supply among cars and print who gets what as JSON."""
    try:
        document: object = json.loads(file.read_bytes())
    except OSError as error:
        _refuse(f"{file}: cannot be read: {error.strerror}")
    except RecursionError:
        _refuse(f"{file}: is nested too deeply")
    except ValueError as error:
        _refuse(f"{file}: is not JSON: {error}")
    try:
        shown = what_if(document, step_a)
    except InvalidInput as error:
        _refuse(str(error))
    typer.echo(json.dumps(shown, indent=2, ensure_ascii=False))
