"""The wiring check, live: steps the car that charges at a station and listens to the building's meter.

It takes six minutes, with one car charging (best on one line) and a meter above it that counts the total.
The steps go through the allocator as a lower maximum of that car: all limits hold meanwhile.
"""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from csms.clock import Clock
from csms.errors import Conflict
from csms.power.installation import Line
from csms.power.rotation_check import Hold, RotationCheck, Sample, check_rotation
from csms.sessions.service import SessionsService
from csms.sessions.session import Session
from csms.sites.model import MeterCounts
from csms.sites.service import SitesService
from csms.stations.model import PerLine
from csms.stations.record import Station
from csms.stations.service import StationsService
from csms.tasks import Tasks
from csms.units import LOWEST_CURRENT_A

log = logging.getLogger(__name__)

HOLDS = 6
HOLD_S = 60.0
"""A raise comes slowly (30 s of room), and stations report what a car draws at their own pace."""
LOOK_S = 28.0
"""The last part of a hold, which is looked at."""

Heard = Callable[[str, Mapping[Line, float], datetime], None]
"""A circuit's id, and what its meter shows, A per line, at that instant."""


class Steerable(Protocol):
    """What is needed of the power service."""

    def on_circuit_reading(self, call: Heard) -> None: ...

    async def limit_car(self, session: Session, max_a: float | None) -> None: ...

    def measured(self, session: Session) -> PerLine: ...


@dataclass(slots=True)
class _Running:
    circuit_id: str
    samples: list[Sample] = field(default_factory=list)


class WiringChecks:
    """Runs at most one check per station. Raises NotFound, Conflict."""

    def __init__(
        self,
        clock: Clock,
        *,
        power: Steerable,
        sites: SitesService,
        stations: StationsService,
        sessions: SessionsService,
        tasks: Tasks,
    ) -> None:
        self._clock = clock
        self._power = power
        self._sites = sites
        self._stations = stations
        self._sessions = sessions
        self._tasks = tasks
        self._running: dict[str, _Running] = {}
        power.on_circuit_reading(self._hear)

    async def start(self, station_id: str) -> None:
        """Begin; Conflict says what is missing. `result` has what came of it, after some six minutes."""
        station = await self._stations.get(station_id)
        if station_id in self._running:
            raise Conflict(f"a wiring check of {station_id} is running")
        if station.site_id is None or station.circuit_id is None:
            raise Conflict(f"station {station_id} has no place yet")
        if not (await self._sites.get_site(station.site_id)).active:
            raise Conflict(f"site {station.site_id} is not active: no car can be stepped there")
        path = await self._sites.path_to_root(station.circuit_id)
        metered = next((c for c in path if c.meter and c.meter.counts is MeterCounts.TOTAL), None)
        if metered is None:
            raise Conflict(f"no meter above station {station_id} counts the total with the cars")
        here = [s for s in await self._sessions.open_sessions(station.site_id) if s.station_id == station_id]
        if len(here) != 1:
            raise Conflict(f"one car must be charging at station {station_id}, and there are {len(here)}")
        if station_id in self._running:  # asked twice at once
            raise Conflict(f"a wiring check of {station_id} is running")
        self._running[station_id] = _Running(metered.id)
        run = self._run(station, here[0], metered.id)
        self._tasks.spawn(run, f"wiring check of {station_id}")

    async def result(self, station_id: str) -> tuple[bool, dict[str, object] | None]:
        """Whether a check runs now, and what the last one came to (None: there was none)."""
        return station_id in self._running, await self._stations.wiring_check(station_id)

    def _hear(self, circuit_id: str, line_a: Mapping[Line, float], at: datetime) -> None:
        for running in self._running.values():
            if running.circuit_id == circuit_id:
                running.samples.append(Sample(at.timestamp(), dict(line_a)))

    async def _run(self, station: Station, session: Session, circuit_id: str) -> None:
        station_id = station.id
        holds = []
        try:
            for i in range(HOLDS):
                await self._power.limit_car(session, station.max_current_a if i % 2 else LOWEST_CURRENT_A)
                await self._clock.sleep(HOLD_S)
                now_s = self._clock.now().timestamp()
                holds.append(Hold(now_s - LOOK_S, now_s, _reported(self._power.measured(session))))
            rotation = tuple(Line(line) for line in station.wiring)
            found = check_rotation(holds, self._running[station_id].samples, rotation)
            kept = document(found, circuit_id, self._clock.now())
            await self._stations.keep_wiring_check(station_id, kept)
            log.info("wiring of %s: %s: %s", station_id, found.verdict, found.why)
        finally:
            self._running.pop(station_id, None)
            await self._power.limit_car(session, None)


def _reported(drawn: PerLine) -> tuple[float, ...]:
    """The currents up to the first line that was not reported: what is missing is not 0."""
    known: list[float] = []
    for value in drawn:
        if value is None:
            break
        known.append(value)
    return tuple(known)


def document(found: RotationCheck, circuit_id: str, at: datetime) -> dict[str, object]:
    """The result as it is kept and shown."""
    return {
        "at": at.isoformat(),
        "circuit_id": circuit_id,
        "verdict": found.verdict.value,
        "confidence": round(found.confidence, 2),
        "why": found.why,
        "lines": [
            {
                "station_line": f"L{each.station_line}",
                "configured": each.configured.value,
                "found": each.line.value if each.line else None,
                "gains": {line.value: round(gain, 2) for line, gain in each.gains.items()},
                "steps": each.steps,
            }
            for each in found.found
        ],
    }
