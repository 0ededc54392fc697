"""What the common parts of the mill draw: stairs, lift, pumps, laundry, ventilation.

The shape is the German household profile H25 (BDEW, 2025) as the package demandlib ships it: quarter hours
in W for about 1,000 kWh a year. It is scaled to the common parts of 48 flats (about 600 kWh a flat and
year, common practice), spread unevenly over the lines; the lift and the dryers come on top as steps.
"""

import warnings
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Final
from zoneinfo import ZoneInfo

from tools.simulator.building import Appliance, BuildingLoad
from tools.weavers_yard.people import FLATS, SEED

COMMON_KWH_PER_FLAT: Final = 600
SHARES: Final = (0.38, 0.34, 0.28)
QUARTER_S: Final = 900
LIFT_A: Final = 4.0
DRYER_A: Final = 5.0
DRYERS: Final = 2


def household_profile_w(first_day: date, days: int) -> list[float]:
    """H25 for so many days from local midnight on, W for about 1,000 kWh a year, one value a quarter hour."""
    with warnings.catch_warnings():
        # demandlib 0.2.2 calls pandas in ways that pandas 3.1 warns of; the figures are the same
        warnings.simplefilter("ignore")
        import pandas
        from demandlib import bdew

        index = pandas.date_range(datetime.combine(first_day, time()), periods=days * 96, freq="15min")
        return [float(value) for value in bdew.H25(index)]


def runs(
    begin: datetime,
    hours: tuple[float, float],
    pause_s: tuple[float, float],
    run_s: tuple[float, float],
    random: Random,
) -> Iterator[tuple[datetime, datetime]]:
    """One machine's day: a pause, a run, a pause ..., never twice at once, between those hours."""
    at = begin + timedelta(hours=hours[0])
    while True:
        start = at + timedelta(seconds=random.uniform(*pause_s))
        at = start + timedelta(seconds=random.uniform(*run_s))
        if at >= begin + timedelta(hours=hours[1]):
            return
        yield start, at


def appliances(starts_at: datetime, days: int, random: Random) -> tuple[Appliance, ...]:
    """One lift on L3 for half a minute now and then, two dryers on L2 in the daytime."""
    steps: list[Appliance] = []
    for day in range(days):
        begin = starts_at + timedelta(days=day)
        machines = [(2, LIFT_A, runs(begin, (6, 24), (60, 1800), (20, 45), random))]
        machines.extend(
            (1, DRYER_A, runs(begin, (8, 21), (1200, 10_800), (3000, 4800), random)) for _ in range(DRYERS)
        )
        for line, current_a, spans in machines:
            steps.extend(
                Appliance(line=line, current_a=current_a, starts_at=start, ends_at=end)
                for start, end in spans
            )
    return tuple(sorted(steps, key=lambda step: step.starts_at))


def common_parts(first_day: date, days: int, zone: ZoneInfo, *, seed: int = SEED) -> BuildingLoad:
    """The load from local midnight of `first_day` on; it repeats after `days`. Quarter hours are not
    shifted by a change to or from summer time within those days."""
    scale = FLATS * COMMON_KWH_PER_FLAT / 1000
    starts_at = datetime.combine(first_day, time(), tzinfo=zone)
    return BuildingLoad(
        starts_at=starts_at,
        interval_s=QUARTER_S,
        power_w=[value * scale for value in household_profile_w(first_day, days)],
        shares=SHARES,
        appliances=appliances(starts_at, days, Random(seed)),
    )
