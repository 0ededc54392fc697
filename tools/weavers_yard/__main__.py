"""`python -m tools.weavers_yard`: what `phaseyard demo` starts."""

import asyncio
from pathlib import Path
from typing import Annotated

import typer

from tools.weavers_yard.demo import Order, run


def main(
    http_port: Annotated[int, typer.Option(help="Port for REST and the pages")] = 8080,
    ocpp_port: Annotated[int, typer.Option(help="Port for the chargers")] = 9210,
    speed: Annotated[
        float, typer.Option(help="How many times faster than real time", min=0.1, max=60)
    ] = 10.0,
    data_dir: Annotated[Path | None, typer.Option(help="Keep the data here")] = None,
) -> None:
    """Run Weavers' Yard until Ctrl-C."""
    try:
        asyncio.run(run(Order(http_port, ocpp_port, speed, data_dir)))
    except OSError as error:
        typer.echo(f"cannot start: {error}; choose other ports with --http-port and --ocpp-port", err=True)
        raise typer.Exit(2) from error


if __name__ == "__main__":
    typer.run(main)
