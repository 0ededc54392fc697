"""The base load as it was: kept by the quarter of an hour, for the forecast.

The highest of each quarter is written when the quarter is over, for every circuit with a meter that is
heard. A meter that counts the building alone has a history already when this begins; that is taken over
once. Of a meter that counts our cars too, what is kept is what the steering makes of it.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from csms.metering.building import LineReading
from csms.power.installation import LINES, Line
from csms.power.planner import repository
from csms.power.planner.forecast import BaseSample
from csms.power.planner.slots import QUARTER, SLOTS
from csms.power.steering.base_load import BuildingReading, Counts, base_load, is_fresh
from csms.power.steering.state import SiteState
from csms.sites.model import Circuit
from csms.sites.service import SitesService
from csms.store.database import Database

KEPT = timedelta(weeks=4)
READ_AGAIN = timedelta(hours=6)

Highest = dict[str, dict[Line, float]]


class Meters(Protocol):
    """What building meters have told (`csms.metering.building_service`)."""

    async def history(self, circuit: Circuit, since: datetime, until: datetime) -> Sequence[LineReading]: ...


class BaseLoads:
    """Keeps samples and hands them out; they are read from the database every few hours."""

    def __init__(self, database: Database, sites: SitesService, meters: Meters) -> None:
        self._database = database
        self._sites = sites
        self._meters = meters
        self._quarter: dict[str, tuple[datetime, Highest]] = {}
        self._known: dict[str, tuple[datetime, list[BaseSample]]] = {}

    async def seen(self, site_id: str, state: SiteState, now_s: float, now: datetime) -> bool:
        """Look at the base load. True: another quarter of an hour has begun since the last look."""
        begun = _quarter(now)
        before, highest = self._quarter.get(site_id, (begun, {}))
        if over := before != begun:
            samples = _samples(before, highest)
            async with self._database.write() as connection:
                await repository.put_base(connection, self._database.dialect, samples)
                await repository.drop_base(connection, now - KEPT)
            if site_id in self._known:
                self._known[site_id][1].extend(samples)
            highest = {}
        self._quarter[site_id] = (begun, highest)
        measured = [
            id for id, meter in state.meters.items() if is_fresh(meter, state.readings.get(id), now_s)
        ]
        if measured:
            base_a = state.base_a(now_s)
            for circuit in measured:
                _raise(highest.setdefault(circuit, {}), base_a[circuit])
        return over

    async def samples(self, site_id: str, state: SiteState, now: datetime) -> list[BaseSample]:
        """The base load of the last weeks."""
        read_at, found = self._known.get(site_id, (None, []))
        if read_at is not None and now - read_at < READ_AGAIN:
            return found
        circuits = [circuit.id for circuit in state.network.installation.circuits]
        async with self._database.read() as connection:
            found = await repository.get_base(connection, circuits, now - KEPT)
        if read_at is None and (missing := self._without_history(state, found)):
            found += await self._take_over(site_id, state, missing, now)
        self._known[site_id] = (now, found)
        return found

    def _without_history(self, state: SiteState, found: Sequence[BaseSample]) -> set[str]:
        counts: dict[str, int] = {}
        for sample in found:
            counts[sample.circuit] = counts.get(sample.circuit, 0) + 1
        return {
            id
            for id, meter in state.meters.items()
            if meter.counts is Counts.BASE and counts.get(id, 0) < SLOTS
        }

    async def _take_over(
        self, site_id: str, state: SiteState, missing: set[str], now: datetime
    ) -> list[BaseSample]:
        """Samples of circuits whose meter counts the building alone, a day at a time, into the database."""
        taken: list[BaseSample] = []
        circuits = [c for c in await self._sites.circuits_of(site_id) if c.id in missing]
        meters = {id: meter for id, meter in state.meters.items() if id in missing}
        until = _quarter(now)
        since = until - KEPT
        while since < until:
            quarters: dict[datetime, Highest] = {}
            for circuit in circuits:
                for reading in await self._meters.history(circuit, since, since + timedelta(days=1)):
                    line_a = {Line(line): value for line, value in reading.told.items()}
                    highest = quarters.setdefault(_quarter(reading.at), {})
                    _raise(highest.setdefault(circuit.id, {}), line_a)
            day: list[BaseSample] = []
            for at, measured in quarters.items():
                at_s = at.timestamp()
                readings = {id: BuildingReading(line_a, at_s) for id, line_a in measured.items()}
                base_a = base_load(state.network.installation, meters, readings, {}, at_s)
                day += _samples(at, {id: base_a[id] for id in measured})
            async with self._database.write() as connection:
                await repository.put_base(connection, self._database.dialect, day)
            taken += day
            since += timedelta(days=1)
        return taken


def _quarter(at: datetime) -> datetime:
    """When the quarter of an hour of `at` began."""
    return at - timedelta(
        minutes=at.minute % (QUARTER.seconds // 60), seconds=at.second, microseconds=at.microsecond
    )


def _raise(highest: dict[Line, float], line_a: Mapping[Line, float]) -> None:
    for line, value in line_a.items():
        highest[line] = max(highest.get(line, 0.0), value)


def _samples(at: datetime, highest: Highest) -> list[BaseSample]:
    l1, l2, l3 = LINES
    return [
        BaseSample(circuit, at, (line_a.get(l1, 0.0), line_a.get(l2, 0.0), line_a.get(l3, 0.0)))
        for circuit, line_a in highest.items()
    ]
