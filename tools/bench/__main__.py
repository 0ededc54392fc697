"""Runs the benchmarks named, or all."""

import asyncio
import platform
import sys

from api.cli.serve import loop_factory
from tools.bench import (
    allocation,
    documents,
    load_step,
    meter_values,
    planning,
    reconnect,
    reports,
    statements,
)

BENCHMARKS = {
    "allocation": allocation.main,
    "documents": documents.main,
    "meter_values": meter_values.main,
    "load_step": load_step.main,
    "planning": planning.main,
    "reconnect": reconnect.main,
    "reports": reports.main,
    "statements": statements.main,
}


def run(names: list[str]) -> None:
    """Print the machine and every benchmark's figures."""
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        sys.exit(f"there is no benchmark {unknown[0]!r}; choose among {', '.join(BENCHMARKS)}")
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}\n")
    for name in names or BENCHMARKS:
        with asyncio.Runner(loop_factory=loop_factory()) as runner:
            runner.run(BENCHMARKS[name]())
        print()


if __name__ == "__main__":
    run(sys.argv[1:])
