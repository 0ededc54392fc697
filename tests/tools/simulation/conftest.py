"""A small site with cars as given, and one run of it with troubles that several tests look at."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.power.installation import System
from tools.simulation.description import (
    Arrivals,
    BaseLoad,
    Circuit,
    Description,
    Disturbance,
    Meter,
    Station,
    Step,
    Trouble,
    Visit,
)
from tools.simulation.world import Outcomes, simulate
from tools.simulator.fleet import ROTATIONS

ZONE = ZoneInfo("Europe/Amsterdam")
DAY = date(2026, 1, 13)


def at(hour: float) -> datetime:
    return datetime(DAY.year, DAY.month, DAY.day, tzinfo=ZONE) + timedelta(hours=hour)


def small(*visits: tuple[int, float, float, float], **more: Any) -> Description:
    """Six bays on 32 A; `visits` are (model, hour, hours, kWh). The building draws 5 A, and 9 A more for a
    quarter of an hour at three, four and five."""
    delta = bool(more.pop("delta", False))
    described = Description(
        name="Six bays",
        system=System.IT_230 if delta else System.TN_400,
        zone=ZONE,
        first_day=DAY,
        seed=7,
        circuits=(
            Circuit(
                id="supply", fed_from=None, limit_a=32, device_a=32, worst_base_a=22, meter=Meter(delay_s=0.3)
            ),
            Circuit(id="board", fed_from="supply", limit_a=25, device_a=25),
        ),
        stations=tuple(
            Station(id=f"BAY-{n}", circuit="board" if n < 3 else "supply", rotation=ROTATIONS[n % 3])
            for n in range(6)
        ),
        loads=(
            BaseLoad(
                circuit="supply",
                current_a=5.0,
                steps=tuple(Step(at_s=3600.0 * hour, lasts_s=900.0, current_a=9.0) for hour in (3, 4, 5)),
            ),
        ),
        arrivals=Arrivals(
            visits=tuple(
                Visit(
                    model=model,
                    arrives_at=at(hour),
                    departs_at=at(hour + hours),
                    energy_wh=1000 * kwh,
                )
                for model, hour, hours, kwh in visits
            )
        ),
        idle_look_s=30.0,
    )
    return replace(described, **more)


FULL_YARD = (
    (1, 1.0, 8.0, 20.0),
    (2, 1.1, 8.0, 20.0),
    (4, 1.2, 8.0, 30.0),
    (0, 1.3, 8.0, 15.0),
    (3, 1.4, 8.0, 10.0),
    (5, 1.5, 8.0, 10.0),
)
TROUBLES = (
    Disturbance(kind=Trouble.METER_SILENT, at=at(2.95), lasts_s=600, circuit="supply"),
    Disturbance(kind=Trouble.STATIONS_OFFLINE, at=at(3.5), lasts_s=3600, share=1 / 3),
    Disturbance(kind=Trouble.SERVER_KILLED, at=at(5.25), lasts_s=60, while_raising=True),
    Disturbance(kind=Trouble.STATIONS_REBOOT, at=at(6.0), share=1 / 2),
)


@pytest.fixture(scope="session")
def make() -> Callable[..., Description]:
    return small


@pytest.fixture(scope="session")
def hour() -> Callable[[float], datetime]:
    return at


@pytest.fixture(scope="session")
def troubled() -> Outcomes:
    """A full yard through the night, with everything that goes wrong once."""
    return simulate(small(*FULL_YARD, disturbances=TROUBLES))


@pytest.fixture(scope="session")
def full_yard() -> tuple[tuple[int, float, float, float], ...]:
    return FULL_YARD
