"""`phaseyard serve`: one node."""

import asyncio
import gc
import logging
from collections.abc import Callable
from typing import Annotated

import typer

from api.cli.failure import fail
from api.cli.options import Config, DatabaseUrl, DataDir, settings_or_fail
from api.node import Node
from csms.errors import InvalidInput


def serve(
    config: Config = None,
    data_dir: DataDir = None,
    database_url: DatabaseUrl = None,
    host: Annotated[str | None, typer.Option(help="Address to listen on")] = None,
    ocpp_port: Annotated[int | None, typer.Option(help="Port for the chargers (9210)")] = None,
    ocpp_tls_port: Annotated[int | None, typer.Option(help="Port for chargers with a key over TLS")] = None,
    ocpp_mutual_tls_port: Annotated[
        int | None, typer.Option(help="Port for chargers with a certificate")
    ] = None,
    http_port: Annotated[int | None, typer.Option(help="Port for REST and the pages (8080)")] = None,
) -> None:
    """Serve the chargers (OCPP), REST and the pages until stopped."""
    settings = settings_or_fail(
        config,
        data_dir=data_dir,
        database_url=database_url,
        host=host,
        ocpp_port=ocpp_port,
        ocpp_tls_port=ocpp_tls_port,
        ocpp_mutual_tls_port=ocpp_mutual_tls_port,
        http_port=http_port,
    )
    logging.basicConfig(
        level=settings.log_level.upper(), format="%(asctime)s %(levelname)s %(name)s: %(message)s"
    )
    logging.getLogger("alembic").setLevel(logging.WARNING)
    try:
        node = Node(settings)
    except InvalidInput as error:
        fail(f"cannot start: {error}")
    settle()
    with asyncio.Runner(loop_factory=loop_factory()) as runner:
        try:
            runner.run(node.run_until_stopped(announce=typer.echo))
        except InvalidInput as error:
            fail(f"cannot start: {error}")
        except OSError as error:
            fail(f"cannot listen: {error}; choose other ports with --http-port and --ocpp-port")


def loop_factory() -> Callable[[], asyncio.AbstractEventLoop] | None:
    """uvloop where there is one: it nearly doubles the messages a second."""
    try:
        import uvloop
    except ImportError:
        return None
    return uvloop.new_event_loop


def settle() -> None:
    """Take what is loaded by now out of the garbage collector's sight: it stays until the end.

    A full collection then looks only at what came later. It is a third of the processor time of
    a meter value otherwise (measured with `python -m tools.bench meter_values`).
    """
    gc.collect()
    gc.freeze()
