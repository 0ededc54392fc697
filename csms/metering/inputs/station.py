"""A charger's own mains meter: what it tells of its EVSE 0 (OCPP: connector 0, EVSE 0)."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar, Self

from csms.errors import InvalidInput
from csms.metering.building import LineReading, rotated
from csms.metering.meter_input import Ear, known
from csms.sites.model import LINES
from csms.stations.events import MetersReported

MAIN_METER = 0
LIVE = timedelta(seconds=60)
"""Age up to which a reading tells of now. It counts from its arrival: a station's clock may be off."""


@dataclass(frozen=True, slots=True)
class StationInput:
    """`lines`: which line of the supply the meter's L1, L2, L3 are put on; not the wiring of its EVSEs."""

    kind: ClassVar[str] = "station"

    station_id: str
    lines: tuple[str, ...] = LINES

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        found = known(fields, path, "station_id", "lines")
        station_id = found.text("station_id", longest=48)
        lines = found.raw("lines") if "lines" in found else LINES
        if not isinstance(lines, list | tuple) or sorted(map(str, lines)) != sorted(LINES):
            raise InvalidInput(found.at("lines"), "must have L1, L2 and L3, each once, e.g. [L2, L3, L1]")
        return cls(station_id, tuple(str(line) for line in lines))

    async def listen(self, ear: Ear) -> None:
        """Readings come with the station's messages: `BuildingService.station_told`."""
        await asyncio.Event().wait()

    def reading(self, event: MetersReported, now: datetime) -> LineReading | None:
        """What a message says of the building now; None when it says nothing."""
        if event.evse != MAIN_METER:
            return None
        live = [each for each in event.readings if abs(now - each.at) <= LIVE]
        told = [each for each in live if any(value is not None for value in each.current_a)]
        if not told:
            return None
        return LineReading(now, rotated(max(told, key=lambda each: each.at).current_a, self.lines))
