"""What a site file describes: the same records that are kept and steered, and where each was written."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from csms.sitefile.places import Place, nearest
from csms.sites.model import Circuit, Site
from csms.stations.record import Evse, Station

UNDATED = datetime(1970, 1, 1, tzinfo=UTC)
"""`created_at` of records that are only described yet."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A station at its place, and how many EVSEs it has."""

    station: Station
    evses: int = 1

    def numbered(self) -> tuple[Evse, ...]:
        """Its EVSEs."""
        return tuple(Evse(station_id=self.station.id, number=n) for n in range(1, self.evses + 1))


@dataclass(frozen=True, slots=True)
class Description:
    """One site. `circuit_paths`, `station_paths`: how the file names each circuit's and station's entry,
    `places` where it stands."""

    site: Site
    circuits: tuple[Circuit, ...]
    stations: tuple[Planned, ...]
    circuit_paths: Mapping[str, str] = field(default_factory=dict)
    station_paths: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)

    def of_circuit(self, circuit_id: str, key: str = "") -> tuple[str, Place]:
        """Path and place of a circuit's entry, or of `key` in it."""
        return self._found(self.circuit_paths.get(circuit_id, "circuits"), key)

    def of_station(self, station_id: str, key: str = "") -> tuple[str, Place]:
        """Path and place of a station's entry, or of `key` in it."""
        return self._found(self.station_paths.get(station_id, "stations"), key)

    def _found(self, path: str, key: str) -> tuple[str, Place]:
        full = f"{path}.{key}" if key else path
        return full, nearest(self.places, full)
