"""`phaseyard serve`: one node."""

import asyncio
import logging
from typing import Annotated

import typer

from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from api.node import Node


def serve(
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
    host: Annotated[str | None, typer.Option(help="Address to listen on")] = None,
    ocpp_port: Annotated[int | None, typer.Option(help="Port for the chargers (9210)")] = None,
    http_port: Annotated[int | None, typer.Option(help="Port for REST and the pages (8080)")] = None,
) -> None:
    """Serve the chargers (OCPP), REST and the pages until stopped."""
    settings = settings_or_fail(
        config,
        data_dir=data_dir,
        database_url=database_url,
        host=host,
        ocpp_port=ocpp_port,
        http_port=http_port,
    )
    logging.basicConfig(
        level=settings.log_level.upper(), format="%(asctime)s %(levelname)s %(name)s: %(message)s"
    )
    node = Node(settings)
    with asyncio.Runner(loop_factory=_loop_factory()) as runner:
        runner.run(node.run_until_stopped(announce=typer.echo))


def _loop_factory():  # type: ignore[no-untyped-def]
    try:
        import uvloop
    except ImportError:
        return None
    return uvloop.new_event_loop
