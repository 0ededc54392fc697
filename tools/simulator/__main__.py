"""`python -m tools.simulator`: many stations against one central system, for load tests."""

import argparse
import asyncio
import contextlib
import logging
import sys
from random import Random

from tools.simulator.clock import RunningClock
from tools.simulator.fleet import FleetOrder, charge_everywhere, make_fleet, run_all
from tools.simulator.link import LinkSettings
from tools.simulator.station import Station


def parse(arguments: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tools.simulator",
        description="Run simulated charging stations against an OCPP central system.",
    )
    parser.add_argument(
        "--url", default="ws://127.0.0.1:9210/ocpp", help="endpoint without identity (%(default)s)"
    )
    parser.add_argument("--count", type=int, default=24, help="how many stations (%(default)s)")
    parser.add_argument(
        "--share-201", type=float, default=0.5, help="part of them that speaks 2.0.1, 0 to 1 (%(default)s)"
    )
    parser.add_argument("--prefix", default="LOAD", help="identities are PREFIX0001 and so on (%(default)s)")
    parser.add_argument("--password", help="HTTP Basic password, the same for all")
    parser.add_argument(
        "--factor",
        type=float,
        default=1.0,
        help="how much faster than real time the stations live (%(default)s)",
    )
    parser.add_argument(
        "--sample", type=int, default=60, help="simulated seconds between meter values (%(default)s)"
    )
    parser.add_argument(
        "--tick", type=float, default=1.0, help="real seconds between physics steps (%(default)s)"
    )
    parser.add_argument(
        "--token", action="append", default=[], help="card held to the stations in turn; may be repeated"
    )
    parser.add_argument(
        "--seconds", type=float, help="stop after so many real seconds (default: run until stopped)"
    )
    parser.add_argument("--seed", type=int, default=1, help="seed of all that is random (%(default)s)")
    parser.add_argument("--verbose", action="store_true", help="log what goes wrong on the lines")
    return parser.parse_args(arguments)


def summary(stations: list[Station]) -> str:
    online = sum(station.link.online for station in stations)
    bays = [bay for station in stations for bay in station.bays]
    charging = sum(bay.evse.power_w > 0 for bay in bays)
    power_kw = sum(bay.evse.power_w for bay in bays) / 1000
    waiting = sum(len(station.link.outbox) for station in stations)
    dropped = sum(station.link.outbox.dropped for station in stations)
    return (
        f"{online}/{len(stations)} on line, {charging} charging, {power_kw:.1f} kW, "
        f"{waiting} messages waiting, {dropped} given up"
    )


async def simulate(options: argparse.Namespace) -> None:
    random = Random(options.seed)
    clock = RunningClock(factor=options.factor)
    order = FleetOrder(
        count=options.count,
        prefix=options.prefix,
        share_201=options.share_201,
        password=options.password,
        sample_s=options.sample,
        tick_s=options.tick,
    )
    stations = make_fleet(order, clock=clock, settings=LinkSettings(url=options.url), random=random)
    print(f"{len(stations)} stations to {options.url}, {clock}", flush=True)

    async def report() -> None:
        while True:
            await asyncio.sleep(5)
            print(summary(stations), flush=True)

    async with asyncio.timeout(options.seconds), asyncio.TaskGroup() as group:
        group.create_task(run_all(stations))
        group.create_task(report())
        if options.token:
            await charge_everywhere(stations, options.token, random)


def main(arguments: list[str] | None = None) -> int:
    options = parse(arguments)
    logging.basicConfig(level=logging.INFO if options.verbose else logging.ERROR)
    try:
        with contextlib.suppress(TimeoutError, KeyboardInterrupt):
            asyncio.run(simulate(options))
    except ValueError as fault:
        print(fault, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
