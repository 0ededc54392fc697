"""A garage of eight simulated stations on two boards, moved second by second together with the server.

Server and stations share one clock that stands still until `Garage.pass_time` moves it by a second and then
waits until everybody has said what there is to say. So a slow machine changes nothing but the patience of
who runs it, and what flows is measured after every second, at the cars and not by what they report.
"""

import asyncio
from collections.abc import Callable, Mapping
from random import Random
from typing import Any, Final

from csms.clock import ManualClock
from tests.scenarios.rest import Json, Rest
from tools.simulator.car import Car, CarModel, Lines
from tools.simulator.excess import Excess
from tools.simulator.fleet import ROTATIONS, make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import StationModel, Version

SITE: Final = "garage"
LIMITS_A: Final[Mapping[str, float]] = {"garage-supply": 40.0, "east": 32.0, "west": 25.0}
WORST_BASE_A: Final = 22.0
METER_PERIOD_S: Final = 2
FALLBACKS_A: Final[Mapping[str, float]] = {"EAST-1": 6.0, "WEST-1": 6.0}
"""By hand: 22 A of the building and twice 6 A make 34 A of 40 A. All others fall back to nothing."""

NAMES: Final = tuple(f"{board}-{number}" for number in (1, 2, 3, 4) for board in ("EAST", "WEST"))
SLOW_S: Final = (4.5, 5.0)
FAST_S: Final = (1.0, 1.5)
"""The worst pair of cars: who has to make room takes all of the 5 s that the standard gives, and who is
let in is there at once."""


SETTLED_AFTER: Final = 3
"""So many looks in a row must find nobody waiting for an answer."""


def car_model(name: str) -> CarModel:
    """By the station's number: 4 has a car for one line, all others for three; odd ones are slow."""
    number = int(name[-1])
    lines, most_a = (1, 32) if number == 4 else (3, 16)
    return CarModel(
        name=f"{lines} lines, {most_a} A",
        battery_wh=90_000,
        lines=lines,
        max_current_a=most_a,
        reaction_s=SLOW_S if number % 2 else FAST_S,
    )


def card_of(name: str) -> str:
    return f"04CA{NAMES.index(name):04d}"


def board_of(name: str) -> str:
    return name.partition("-")[0].lower()


async def make_garage(rest: Rest) -> None:
    """Everything by REST, then active."""
    site = {"id": SITE, "name": "Garage", "time_zone": "Europe/Amsterdam", "currency": "EUR"}
    await rest.post("/sites", {**site, "system": "TN-400"})
    for circuit, limit_a in LIMITS_A.items():
        supply: Json = {"fed_from": "garage-supply"}
        if circuit == "garage-supply":
            meter = {"counts": "base", "period_s": METER_PERIOD_S}
            supply = {"worst_base_a": WORST_BASE_A, "meter": meter}
        body = {"id": circuit, "site_id": SITE, "name": circuit, "limit_a": limit_a, **supply}
        await rest.post("/circuits", body)
    for number, name in enumerate(NAMES):
        wiring = [f"L{line + 1}" for line in ROTATIONS[number % 3]]
        body = {"id": name, "site_id": SITE, "circuit_id": board_of(name), "wiring": wiring}
        await rest.post("/stations", {**body, "fallback_a": FALLBACKS_A.get(name, 0.0), "step_a": 0.1})
        member = await rest.post("/members", {"site_id": SITE, "name": f"Driver at {name}"})
        await rest.post("/tokens", {"text": card_of(name), "member_id": member["id"]})
        await rest.post("/rights", {"site_id": SITE, "member_id": member["id"]})
    await rest.send("PATCH", f"/sites/{SITE}", {"active": True})


class Garage:
    """`rest` may be set anew when the server is another. `base_a`: what the building draws on each line.

    `meter_speaks` false: the building's meter says nothing. `excess` watches what flows on each circuit.
    """

    def __init__(self, clock: ManualClock, url: str, rest: Rest, seed: int = 7) -> None:
        self.clock, self.rest = clock, rest
        self.base_a = 8.0
        self.meter_speaks = True
        self.seconds = 0
        random = Random(seed)
        self.stations = {
            name: make_station(
                StationModel(
                    identity=name,
                    version=Version.V201 if number % 2 else Version.V16,
                    wiring=ROTATIONS[number % 3],
                ),
                clock=clock,
                settings=LinkSettings(url=url, wait_min_s=0.05, wait_random_s=0.05),
                random=Random(random.getrandbits(64)),
                options=Options(sample_s=10),
                register_wh=1000.0 * number,
            )
            for number, name in enumerate(NAMES)
        }
        self.excess = {circuit: Excess(limit_a=limit_a) for circuit, limit_a in LIMITS_A.items()}
        self._cars = Random(seed + 1)
        self._links = [asyncio.ensure_future(station.link.run()) for station in self.stations.values()]

    async def close(self) -> None:
        for link in self._links:
            link.cancel()
        await asyncio.gather(*self._links, return_exceptions=True)

    # Hands

    async def on_line(self, *names: str) -> None:
        """Return when those stations are connected and have been told what to hold in silence."""
        for name in names or NAMES:
            await self.stations[name].link.accepted()
        await self.pass_time(3)

    async def plug_in(self, name: str) -> None:
        """A car comes and its card is held to the station."""
        station = self.stations[name]
        station.plug_in(Car(car_model(name), soc=0.1, random=Random(self._cars.getrandbits(64))))
        assert await station.present(card_of(name)) == "Accepted"

    def cut(self, *names: str) -> None:
        for name in names or NAMES:
            self.stations[name].link.cut()

    def mend(self, *names: str) -> None:
        for name in names or NAMES:
            self.stations[name].link.mend()

    # Time

    async def pass_time(self, seconds: int, step_s: int = 1) -> None:
        """Second by second: the meter speaks, time moves, the stations live, currents are measured.

        `step_s`: longer steps, for hours in which nobody says anything.
        """
        for _ in range(0, seconds, step_s):
            if self.meter_speaks and self.seconds % METER_PERIOD_S == 0:
                lines = dict.fromkeys(("L1", "L2", "L3"), self.base_a)
                await self.rest.post("/circuits/garage-supply/readings", {"current_a": lines})
            self.clock.advance(step_s)
            self.seconds += step_s
            for station in self.stations.values():
                station.step(step_s)
            for circuit, excess in self.excess.items():
                excess.step(step_s, self.flows_a(circuit))
            await self._settle()

    async def until(self, test: Callable[[], bool], within_s: int, what: str) -> int:
        """Let time pass until it is so; how many seconds that took."""
        for second in range(within_s):
            if test():
                return second
            await self.pass_time(1)
        raise AssertionError(f"not within {within_s} s: {what}; {self.currents_a()}")

    async def _settle(self) -> None:
        quiet = 0
        for _ in range(400):
            await asyncio.sleep(0.003)
            waiting = any(
                station.link.online and len(station.link.outbox) for station in self.stations.values()
            )
            quiet = 0 if waiting else quiet + 1
            if quiet >= SETTLED_AFTER:
                return

    # What is to be seen

    def current_a(self, name: str) -> float:
        """The highest of the lines of that station's car."""
        return max(self.stations[name].site_currents_a())

    def charging(self) -> int:
        """How many cars draw the lowest current that there is, or more."""
        return sum(self.current_a(name) >= 6.0 for name in NAMES)

    def currents_a(self) -> dict[str, float]:
        return {name: round(self.current_a(name), 1) for name in NAMES}

    def flows_a(self, circuit: str) -> Lines:
        """What flows on the lines of a circuit: its cars, and in the supply the building too."""
        lines = [self.base_a if circuit == "garage-supply" else 0.0] * 3
        for name, station in self.stations.items():
            if circuit in ("garage-supply", board_of(name)):
                for line, current_a in enumerate(station.site_currents_a()):
                    lines[line] += current_a
        return (lines[0], lines[1], lines[2])

    async def shown(self) -> dict[str, Any]:
        """The bays as the REST interface shows them, by station."""
        return {bay["station_id"]: bay for bay in (await self.rest.get(f"/sites/{SITE}/power"))["bays"]}

    def never_above(self) -> dict[str, float]:
        """Circuits that ever carried more than their limit, with the highest current."""
        return {name: each.highest_a for name, each in self.excess.items() if each.seconds > 0}
