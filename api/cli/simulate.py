"""`phaseyard simulate FILE.yaml`: a site's days in accelerated time, with figures and a picture.

As with the demo the simulation is part of the source tree and never ships: this command starts it from
beside the packages, and where it is not, that is said.
"""

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

import api
from api.cli.failure import fail

PROGRAM = "tools.simulation"


def simulate(
    file: Annotated[Path, typer.Argument(help="What is simulated, as YAML.", show_default=False)],
    out_dir: Annotated[
        Path | None, typer.Option(help="Where the figures and the picture go; default: beside the file")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the figures as JSON")] = False,
) -> None:
    """Run a site's days in accelerated time, with cars, building load and troubles."""
    root = Path(api.__file__).parents[1]
    if not (root / PROGRAM.replace(".", "/")).is_dir():
        fail("simulate: the simulation comes with the source tree; clone it and run the command there")
    command = [sys.executable, "-m", PROGRAM, str(file.absolute())]
    command += ["--out-dir", str(out_dir.absolute())] if out_dir else []
    command += ["--json"] if json else []
    way = os.pathsep.join(filter(None, [str(root), os.environ.get("PYTHONPATH", "")]))
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": way}, check=False)  # noqa: S603
    raise typer.Exit(done.returncode)
