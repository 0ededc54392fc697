"""`phaseyard demo`: the invented site with simulated chargers and cars.

The simulator is part of the source tree and never ships, so the demo is a program of its own
that this command starts; it is found beside the packages, and where it is not, that is said.
"""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

import api
from api.cli.failure import fail

PROGRAM = "tools.weavers_yard"


def demo(
    http_port: Annotated[int, typer.Option(help="Port for REST and the pages")] = 8080,
    ocpp_port: Annotated[int, typer.Option(help="Port for the chargers")] = 9210,
    speed: Annotated[float, typer.Option(help="How many times faster than real time")] = 10.0,
    data_dir: Annotated[
        Path | None, typer.Option(help="Keep the data here; default: a folder that goes away")
    ] = None,
) -> None:
    """Show Weavers' Yard: an invented site, members, tariffs, chargers and cars."""
    root = Path(api.__file__).parents[1]
    if not (root / PROGRAM.replace(".", "/")).is_dir():
        fail("demo: the simulated chargers come with the source tree; clone it and run tools/demo there")
    command = [sys.executable, "-m", PROGRAM, "--http-port", str(http_port), "--ocpp-port", str(ocpp_port)]
    command += ["--speed", str(speed), *(["--data-dir", str(data_dir.absolute())] if data_dir else [])]
    os.chdir(root)
    os.execv(command[0], command)  # noqa: S606  one process: Ctrl-C reaches the demo itself
