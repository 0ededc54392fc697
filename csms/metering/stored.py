"""A reading as it is kept."""

from dataclasses import dataclass

from csms.stations.model import Reading


@dataclass(frozen=True, slots=True)
class StoredReading:
    """`reading` rounded to mA, mV, W, tenths of a degree and of a percent; ids count up by arrival."""

    id: int
    station_id: str
    evse: int | None
    session_id: int | None
    reading: Reading
