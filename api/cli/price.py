"""`phaseyard price`: one imagined session priced by one tariff, as JSON."""

import json
from pathlib import Path
from typing import Annotated

import typer

from csms.errors import InvalidInput
from csms.tariffs.document import load_json
from csms.tariffs.market.document import LARGEST_BYTES
from csms.tariffs.market.loose import loose_market
from csms.tariffs.market.series import PricesMissing
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.quote import price_document


def price(
    tariff: Annotated[Path, typer.Option(help="An OCPI Tariff object, 2.2.1 or 2.3.0, as JSON.")],
    session: Annotated[Path, typer.Option(help="The session: start_local, time_zone, segments, as JSON.")],
    prices: Annotated[
        list[Path] | None,
        typer.Option(
            help="Market prices, for a tariff that follows them: XML (A44) or CSV. May be repeated."
        ),
    ] = None,
    area: Annotated[
        str | None, typer.Option(help="Code of the area, where the prices are of several.")
    ] = None,
) -> None:
    """Price one session and print lines, reasons and totals. Exit 2 when an input is malformed."""
    try:
        document = load_json(_text(tariff, "tariff"), "tariff")
        read = parse_tariff(document, "tariff")
        files = [(path.name, _bytes(path, "prices")) for path in prices or ()]
        market = loose_market([spot.feed_id for spot in read.spots], read.currency, files, area)
        answer = price_document(document, load_json(_text(session, "session"), "session"), market)
    except (InvalidInput, PricesMissing) as error:
        typer.echo(" ".join(str(error).split()), err=True)
        raise typer.Exit(2) from None
    typer.echo(json.dumps(answer, indent=2))


def _text(path: Path, name: str) -> str:
    try:
        return _bytes(path, name).decode("utf-8")
    except UnicodeDecodeError:
        raise InvalidInput(name, f"{path} is not UTF-8 text") from None


def _bytes(path: Path, name: str) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise InvalidInput(name, f"cannot read {path}: {error.strerror}") from None
