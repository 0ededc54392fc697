"""The long runs: Weavers' Yard with 24 and 200 bays, a winter week, star and delta, calm and with troubles.

`python -m tools.simulation.proof [--days N] [--only TEXT] [--json FILE]` prints a row for each run as it
ends; `--growth` measures the time of one decision for sites of up to 2,000 EVSEs.
"""

import argparse
import json
import math
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Final

from csms.power.installation import LINES
from csms.power.steering.base_load import BuildingReading
from csms.power.steering.bay import Charge
from csms.power.steering.decision import step
from csms.power.steering.promises import Outcome
from csms.power.steering.state import SiteState, new_site
from csms.power.steering.timing import Timing
from tools.simulation.description import Description, Disturbance, Messages, Meter, Station, Trouble
from tools.simulation.report import ENERGY_BAR, Report, report
from tools.simulation.server import installation
from tools.simulation.world import simulate
from tools.simulation.yard import weavers_yard

PACE_S: Final = {24: 30.0, 200: 60.0}
"""Without urgent news (a step of the base load, a plug, an end) the decision is asked so often at most."""
GROWTH: Final = (24, 100, 200, 500, 1000, 2000)
THIRD: Final = 1 / 3


@dataclass(frozen=True, slots=True)
class Run:
    name: str
    description: Description


def runs(days: int) -> Iterator[Run]:
    """Everything that is proved, the short ones first."""
    for bays in (24, 200):
        for delta in (False, True):
            kind = f"{bays} bays, {'delta' if delta else 'star'}"
            calm = replace(weavers_yard(bays, delta=delta, days=days), idle_look_s=PACE_S[bays])
            yield Run(f"{kind}, calm", calm)
            yield Run(f"{kind}, with troubles", replace(calm, disturbances=troubles(calm)))
    for bays in (24, 200):
        crowded = weavers_yard(bays, days=min(days, 2), supply_a=36.0)
        few = replace(crowded.arrivals, energy_factor=2.0, van_priority=0)
        crowded = replace(crowded, arrivals=few, idle_look_s=PACE_S[bays], stations=_no_fallback(crowded))
        silent = _blind(crowded, Trouble.METER_SILENT, 10)
        dead = _blind(crowded, Trouble.SERVER_KILLED, 1)
        name = f"{bays} bays, star, crowded"
        yield Run(f"{name}, calm", crowded)
        yield Run(f"{name}, meter silent from 7 s before a step", silent)
        yield Run(f"{name}, server dead from 7 s before a step", dead)
        yield Run(f"{name}, meter silent, the step kept free", _kept_free(silent))
        yield Run(f"{name}, server dead, the step kept free", _kept_free(dead))
    for delta in (False, True):
        calm = replace(weavers_yard(24, delta=delta, days=days), idle_look_s=PACE_S[24])
        free = _kept_free(replace(calm, disturbances=troubles(calm)))
        yield Run(f"24 bays, {'delta' if delta else 'star'}, with troubles, a step kept free", free)
    yield Run("24 bays, star, coarse", coarse(weavers_yard(24, days=days)))


def _no_fallback(description: Description) -> tuple[Station, ...]:
    return tuple(replace(station, fallback_a=0.0) for station in description.stations)


def _kept_free(description: Description) -> Description:
    """With room for the ovens, which may come on while nobody sees it."""
    step_a = max(step.current_a for load in description.loads for step in load.steps)
    delta = description.system.is_delta
    timing = replace(description.timing, unseen_step_a=step_a * (math.sqrt(3) if delta else 1.0))
    return replace(description, timing=timing)


def coarse(description: Description) -> Description:
    """Longer offers, rarer readings and looks: for runs of months. Steps are still answered at once."""
    supply, *boards = description.circuits
    return replace(
        description,
        circuits=(replace(supply, meter=Meter(period_s=60.0, on_change_a=0.05)), *boards),
        messages=Messages(sample_s=300.0),
        timing=Timing(offer_validity_s=900.0, meter_stale_s=180.0),
        idle_look_s=120.0,
    )


def troubles(description: Description) -> tuple[Disturbance, ...]:
    """In the evenings, when most cars are here: the meter says nothing for ten minutes (a step comes in
    them; once more from 7 s before a step), a third of the stations has no link for an hour, the server is
    killed with a raise on its way, and once more 7 s before a step; a third of the stations starts anew."""

    def at(day: int, hour: int, minute: int, second: int = 0) -> datetime:
        moment = description.starts_at + timedelta(days=min(day, description.days - 1))
        return moment.replace(hour=hour, minute=minute, second=second)

    supply = description.circuits[0].id
    return (
        Disturbance(kind=Trouble.METER_SILENT, at=at(1, 17, 0), lasts_s=600, circuit=supply),
        Disturbance(kind=Trouble.METER_SILENT, at=at(1, 20, 2, 10), lasts_s=600, circuit=supply),
        Disturbance(kind=Trouble.STATIONS_OFFLINE, at=at(2, 18, 0), lasts_s=3600, share=THIRD),
        Disturbance(kind=Trouble.SERVER_KILLED, at=at(3, 18, 30), lasts_s=60, while_raising=True),
        Disturbance(kind=Trouble.SERVER_KILLED, at=at(3, 20, 2, 10), lasts_s=60),
        Disturbance(kind=Trouble.STATIONS_REBOOT, at=at(4, 19, 0), share=THIRD),
    )


def _blind(description: Description, kind: Trouble, minutes: float) -> Description:
    """Every evening just before the ovens start at 20:02:17, which nobody can know of then."""
    supply = description.circuits[0].id
    return replace(
        description,
        disturbances=tuple(
            Disturbance(
                kind=kind,
                at=(description.starts_at + timedelta(days=day)).replace(hour=20, minute=2, second=10),
                lasts_s=60 * minutes,
                circuit=supply,
            )
            for day in range(description.days)
        ),
    )


HEAD: Final = (
    "| run | above a limit within / beyond the reaction | highest | trips | energy of the best | of an even "
    "sharing | waited longer than an equal car | messages per station and hour | reaction 50 / 99 % / most "
    "| CPU |\n"
    "|---|---|---|---|---|---|---|---|---|---|"
)


def row(name: str, found: Report, took_s: float) -> str:
    """One line of the table; what misses its bar is marked."""
    reaction = " / ".join(f"{value:.1f}" for value in found.reaction_s) or "–"
    energy = f"{100 * found.share_of_best:.1f} %{'' if found.share_of_best >= ENERGY_BAR else ' (!)'}"
    highest = f"{100 * found.highest_share:.0f} %" if found.episodes else "below 100 %"
    even = "–" if found.even_kwh is None else f"{100 * found.delivered_kwh / found.even_kwh:.1f} %"
    waited = f"{found.waited_longer_than_equal_s / 60:.1f} min{'' if found.fair else ' (!)'}"
    beyond = f"{found.beyond_s:.1f} s, {found.beyond_as:.0f} As{'' if found.beyond_s == 0 else ' (!)'}"
    return (
        f"| {name} | {found.within_s:.1f} s, {found.within_as:.0f} As / {beyond} | "
        f"{highest} | {found.trips} | {energy} | {even} | {waited} | "
        f"{found.messages_per_station_hour:.0f} | {reaction} s | {took_s:.0f} s |"
    )


def busy_site(evses: int) -> SiteState:
    """A site of that size, two of three bays with a car, all told, nothing offered yet."""
    description = weavers_yard(evses)
    state = new_site(installation(description))
    bays = {evse: bay.connected() for evse, bay in state.bays.items()}
    for n, evse in enumerate(bays):
        if n % 3:
            bays[evse] = bays[evse].started(Charge(transaction=str(n), started_s=0.0), 0.0)
    supply = description.circuits[0].id
    return replace(state, bays=bays, readings={supply: BuildingReading(dict.fromkeys(LINES, 10.0), 0.0)})


def decision_s(evses: int, rounds: int = 15) -> float:
    """Median processor time of one decision in s, while a site of that size starts and goes on."""
    state, times = busy_site(evses), []
    for n in range(rounds):
        now_s = 1000.0 + 20.0 * n
        began = time.process_time()
        decided = step(state, now_s)
        times.append(time.process_time() - began)
        state = decided.state
        bays = dict(state.bays)
        for offer in decided.offers:
            bays[offer.evse] = bays[offer.evse].answered(offer.id, Outcome.ACCEPTED, now_s + 1)
        state = replace(state, bays=bays)
    return median(times)


def growth() -> None:
    """Print the table of sizes, and each time against n log n from the one before."""
    sys.stdout.write("| EVSEs | one decision | against n log n from the size before |\n|---|---|---|\n")
    before: tuple[int, float] | None = None
    for evses in GROWTH:
        took_s = decision_s(evses)
        against = "–"
        if before is not None:
            expected_s = before[1] * evses * math.log(evses) / (before[0] * math.log(before[0]))
            against = f"{took_s / expected_s:.2f}"
        sys.stdout.write(f"| {evses} | {1000 * took_s:.1f} ms | {against} |\n")
        before = (evses, took_s)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tools.simulation.proof", description=__doc__)
    parser.add_argument("--days", type=int, default=7)
    parser.add_argument("--only", default="", help="only runs with this text in their name")
    parser.add_argument("--json", type=Path, help="append each run's figures to this file, one line each")
    parser.add_argument("--growth", action="store_true")
    given = parser.parse_args()
    if given.growth:
        growth()
        return
    sys.stdout.write(HEAD + "\n")
    for run in runs(given.days):
        if given.only not in run.name:
            continue
        began = time.process_time()
        outcomes = simulate(run.description)
        took_s = time.process_time() - began
        found = report(outcomes, even=True)
        sys.stdout.write(row(run.name, found, took_s) + "\n")
        sys.stdout.flush()
        if given.json:
            with given.json.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"run": run.name, "took_s": took_s, **found.as_json()}) + "\n")


if __name__ == "__main__":
    main()
