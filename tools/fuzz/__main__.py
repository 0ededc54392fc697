"""`python -m tools.fuzz --frames 200000 --seed 1`: exit code 1 when anything was lost or died."""

import argparse
import asyncio
import logging
import math
import resource
import sys
import tempfile
import time
from pathlib import Path

from tools.fuzz.run import fuzz


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tools.fuzz", description=__doc__)
    parser.add_argument("--frames", type=int, default=200_000, help="spoilt messages in all")
    parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same messages")
    parser.add_argument("--stations", type=int, default=48, help="at once, of the three versions in turn")
    parser.add_argument("--minutes", type=float, default=math.inf, help="say no more after this time")
    parser.add_argument("--folder", type=Path, help="where the database is made; left out: a new folder")
    chosen = parser.parse_args()
    logging.basicConfig(level=logging.ERROR)
    began, spent = time.monotonic(), time.process_time()
    with tempfile.TemporaryDirectory(dir=chosen.folder) as folder:
        result = asyncio.run(
            fuzz(Path(folder), chosen.frames, chosen.seed, chosen.stations, longest_s=60 * chosen.minutes)
        )
    took_s, cpu_s = time.monotonic() - began, time.process_time() - spent
    memory_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{result.frames} spoilt messages, {result.honest} honest ones, seed {chosen.seed}")
    print(f"{took_s:.0f} s by the clock, {cpu_s:.0f} s of processor, {memory_mib:.0f} MiB at most")
    for reason, times in sorted(result.reconnects.items()):
        print(f"links closed by rule, {reason}: {times}; each came back")
    print(f"honest transactions: {result.transactions}; faults: {len(result.faults)}")
    for fault in result.faults[:20]:
        print(f"  {fault[:600]}")
    return 1 if result.faults else 0


if __name__ == "__main__":
    sys.exit(main())
