"""Plays a scenario on simulated stations: plug in, hold the card, charge, leave."""

import asyncio
import logging
from collections.abc import Iterable, Sequence
from datetime import datetime
from random import Random

from tools.simulator.building import BuildingLoad
from tools.simulator.car import Car, Lines
from tools.simulator.clock import Clock
from tools.simulator.evse import EvseModel
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.station import Station, StationModel
from tools.weavers_yard.people import SEED
from tools.weavers_yard.scenario import Visit
from tools.weavers_yard.site import Bay, Site

log = logging.getLogger(__name__)


def station_model(bay: Bay, *, tick_s: float = 0.25) -> StationModel:
    return StationModel(
        identity=bay.identity,
        version=bay.version,
        evse=EvseModel(max_current_a=bay.max_current_a, step_a=bay.step_a),
        wiring=bay.wiring,
        serial=f"SL22-{bay.identity}",
        events_for_status=bay.events_for_status,
        tick_s=tick_s,
    )


def make_stations(
    site: Site, *, clock: Clock, url: str, sample_s: int = 60, seed: int = SEED
) -> list[Station]:
    """All stations of the site, each with a meter that has been running for a while. `url` is without
    identity."""
    random = Random(seed)
    return [
        make_station(
            station_model(bay),
            clock=clock,
            settings=LinkSettings(url=url),
            random=Random(random.getrandbits(64)),
            options=Options(password=bay.password, sample_s=sample_s),
            register_wh=float(random.randrange(200_000, 4_000_000)),
        )
        for bay in site.bays
    ]


class Player:
    """`verdicts` collects what each card was answered, by who held it; `turned_away` who found no free
    bay."""

    def __init__(self, stations: Iterable[Station], clock: Clock, *, seed: int = SEED) -> None:
        self._stations = {station.identity: station for station in stations}
        self._clock = clock
        self._random = Random(seed)
        self.verdicts: list[tuple[str, str]] = []
        self.turned_away: list[str] = []

    async def play(self, visits: Sequence[Visit]) -> None:
        """Return when the last car has left."""
        async with asyncio.TaskGroup() as group:
            for visit in visits:
                await self._until(visit.arrives_at.timestamp())
                group.create_task(self._visit(visit))

    async def _until(self, timestamp: float) -> None:
        await self._clock.sleep(timestamp - self._clock.now().timestamp())

    async def _visit(self, visit: Visit) -> None:
        car = Car(visit.car, soc=visit.soc, random=Random(self._random.getrandbits(64)), name=visit.who)
        station = self._free(visit.bays)
        if station is None:
            self.turned_away.append(visit.who)
            return
        station.plug_in(car)
        await station.link.accepted()
        verdict = await station.present(visit.card)
        self.verdicts.append((visit.who, verdict))
        log.info("%s at %s: %s", visit.who, station.identity, verdict)
        await self._until(visit.departs_at.timestamp())
        station.unplug()

    def _free(self, identities: Sequence[str]) -> Station | None:
        for identity in identities:
            station = self._stations[identity]
            if not station.bays[0].plugged:
                return station
        return None


def board_currents_a(site: Site, stations: Iterable[Station], circuit: str) -> Lines:
    """What the cars draw through a circuit per line of the supply: its own stations and those of all
    circuits below."""
    below = {circuit}
    for each in site.circuits:  # parents come first
        if each.fed_from in below:
            below.add(each.name)
    lines = [0.0, 0.0, 0.0]
    for station in stations:
        if site.bay(station.identity).circuit in below:
            for line, current_a in enumerate(station.site_currents_a()):
                lines[line] += current_a
    return (lines[0], lines[1], lines[2])


def supply_currents_a(site: Site, stations: Iterable[Station], load: BuildingLoad, at: datetime) -> Lines:
    """What a meter at the supply reads per line: the common parts and all cars."""
    cars, base = board_currents_a(site, stations, site.circuits[0].name), load.currents_a(at)
    return (cars[0] + base[0], cars[1] + base[1], cars[2] + base[2])
