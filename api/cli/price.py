"""`phaseyard price`: one imagined session priced by one tariff, as JSON."""

import json
from pathlib import Path
from typing import Annotated

import typer

from csms.errors import InvalidInput
from csms.tariffs.document import load_json
from csms.tariffs.quote import price_document


def price(
    tariff: Annotated[Path, typer.Option(help="An OCPI Tariff object, 2.2.1 or 2.3.0, as JSON.")],
    session: Annotated[Path, typer.Option(help="The session: start_local, time_zone, segments, as JSON.")],
) -> None:
    """Price one session and print lines, reasons and totals. Exit 2 when an input is malformed."""
    try:
        answer = price_document(_read(tariff, "tariff"), _read(session, "session"))
    except InvalidInput as error:
        typer.echo(" ".join(str(error).split()), err=True)
        raise typer.Exit(2) from None
    typer.echo(json.dumps(answer, indent=2))


def _read(path: Path, name: str) -> object:
    try:
        written = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise InvalidInput(name, f"{path} is not UTF-8 text") from None
    except OSError as error:
        raise InvalidInput(name, f"cannot read {path}: {error.strerror}") from None
    return load_json(written, name)
