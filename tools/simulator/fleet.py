"""Stations made to order, one or many, and kept running together."""

import asyncio
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from random import Random
from typing import Final

from tools.simulator.car import Car, CarModel
from tools.simulator.clock import Clock
from tools.simulator.link import LinkSettings
from tools.simulator.link16 import Link16
from tools.simulator.link201 import Link201
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel, Version

ROTATIONS: Final = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
"""Installers turn the lines from station to station, so that single-phase cars spread."""


def make_station(
    model: StationModel,
    *,
    clock: Clock,
    settings: LinkSettings,
    random: Random,
    options: Options | None = None,
    register_wh: float = 0.0,
    clock_error: timedelta = timedelta(),
    sets_clock: bool = False,
) -> Station:
    """A station with the link of its version. See `Station` for the arguments."""
    return Station(
        model,
        clock=clock,
        link=Link16 if model.version is Version.V16 else Link201,
        settings=settings,
        random=random,
        options=options,
        register_wh=register_wh,
        clock_error=clock_error,
        sets_clock=sets_clock,
    )


async def run_all(stations: Iterable[Station]) -> None:
    """Be all of them until cancelled."""
    async with asyncio.TaskGroup() as group:
        for station in stations:
            group.create_task(station.run())


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetOrder:
    """Many like stations for a load test. `share_201` of them (0 to 1) speak 2.0.1, evenly spread."""

    count: int
    prefix: str = "LOAD"
    share_201: float = 0.5
    password: str | None = None
    sample_s: int = 60
    tick_s: float = 1.0

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError(f"count: {self.count} must be at least 1")
        if not 0 <= self.share_201 <= 1:
            raise ValueError(f"share_201: {self.share_201} must lie between 0 and 1")

    def models(self) -> list[StationModel]:
        return [
            StationModel(
                identity=f"{self.prefix}{n + 1:04d}",
                version=self._version(n),
                wiring=ROTATIONS[n % 3],
                events_for_status=n % 4 == 3,
                tick_s=self.tick_s,
            )
            for n in range(self.count)
        ]

    def _version(self, n: int) -> Version:
        before, after = int(n * self.share_201 + 1e-9), int((n + 1) * self.share_201 + 1e-9)
        return Version.V201 if after > before else Version.V16


def make_fleet(order: FleetOrder, *, clock: Clock, settings: LinkSettings, random: Random) -> list[Station]:
    return [
        make_station(
            model,
            clock=clock,
            settings=settings,
            random=Random(random.getrandbits(64)),
            options=Options(password=order.password, sample_s=order.sample_s),
            register_wh=float(random.randrange(0, 5_000_000)),
        )
        for model in order.models()
    ]


LOAD_CARS: Final = (
    CarModel(name="one line, 32 A", battery_wh=52_000, lines=1, max_current_a=32),
    CarModel(name="two lines, 16 A", battery_wh=36_000, lines=2, max_current_a=16),
    CarModel(name="three lines, 16 A", battery_wh=77_000, lines=3, max_current_a=16),
    CarModel(name="three lines, 32 A", battery_wh=90_000, lines=3, max_current_a=32),
)


async def charge_everywhere(stations: Sequence[Station], tokens: Sequence[str], random: Random) -> None:
    """A car at each station, a card held to it once it is on line; return when all have been held."""

    async def one(number: int, station: Station) -> None:
        await station.link.accepted()
        for bay in station.bays:
            model = LOAD_CARS[random.randrange(len(LOAD_CARS))]
            station.plug_in(Car(model, soc=random.uniform(0.1, 0.7), random=station.random), bay.number)
            await station.present(tokens[number % len(tokens)], bay.number)

    async with asyncio.TaskGroup() as group:
        for number, station in enumerate(stations):
            group.create_task(one(number, station))
