"""Weavers' Yard in any size, star or delta: the invented site that the proof runs on.

A house has 24 or 25 bays on two boards, six or so of them for the bakery's vans. Fallbacks are chosen so
that silence is safe: some van bays fall back to 6 A, all others to nothing. The meter tells every change at
once, as one does that is read every second.
"""

from datetime import date
from typing import Final

from csms.power.installation import System
from tools.simulation.description import (
    Arrivals,
    BaseLoad,
    Circuit,
    Description,
    LoadKind,
    Meter,
    Station,
    Step,
    Use,
)
from tools.simulator.fleet import ROTATIONS

WINTER: Final = date(2026, 1, 12)
OVEN_A: Final = 8.0


def weavers_yard(
    bays: int, *, delta: bool = False, days: int = 7, seed: int = 1848, supply_a: float | None = None
) -> Description:
    """`bays` on as many houses as needed; a winter week from a Monday on. `supply_a` None: 63 A a house in
    the star, 100 A in the delta."""
    houses = max(1, bays // 24)
    per_house = [bays // houses + (1 if n < bays % houses else 0) for n in range(houses)]
    factor = 100 / 63 if delta else 1.0
    supply = (63.0 * factor if supply_a is None else supply_a) * houses
    worst_a = round((22.0 + OVEN_A) * (1.6 if delta else 1.0)) * houses
    circuits = [
        Circuit(
            id="supply",
            fed_from=None,
            limit_a=supply,
            device_a=supply,
            worst_base_a=worst_a,
            meter=Meter(on_change_a=0.05),
        )
    ]
    stations: list[Station] = []
    for house, count in enumerate(per_house, 1):
        court, mill = f"court-{house}", f"mill-{house}"
        circuits += [_board(court, 50 * factor), _board(mill, 40 * factor)]
        for n in range(count):
            board, use = (
                (court, Use.CARS) if n < count - 8 else (mill, Use.VANS if n < count - 2 else Use.CARS)
            )
            falls_back = use is Use.VANS and n % 2 == 0
            stations.append(
                Station(
                    id=f"{board}-{n + 1:02d}",
                    circuit=board,
                    rotation=ROTATIONS[n % 3],
                    fallback_a=6.0 if falls_back else 0.0,
                    use=use,
                )
            )
    vans = sum(1 for station in stations if station.use is Use.VANS)
    return Description(
        name=f"Weavers' Yard, {bays} bays, {'delta' if delta else 'star'}",
        system=System.IT_230 if delta else System.TN_400,
        first_day=WINTER,
        days=days,
        seed=seed,
        circuits=tuple(circuits),
        stations=tuple(stations),
        loads=(
            BaseLoad(
                circuit="supply",
                kind=LoadKind.WEAVERS_YARD,
                houses=houses,
                steps=tuple(
                    Step(at_s=hour * 3600.0 + 137.0, lasts_s=2700.0, current_a=OVEN_A * houses)
                    for hour in (4, 17, 20)
                ),
            ),
        ),
        arrivals=Arrivals(cars=len(stations) - vans, vans=vans, energy_factor=1.5, van_priority=1),
    )


def _board(name: str, limit_a: float) -> Circuit:
    return Circuit(id=name, fed_from="supply", limit_a=limit_a, device_a=limit_a)
