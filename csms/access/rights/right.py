"""What a right is, and where it holds."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Right:
    """Who: a member, a group, or, when neither is given, everyone, also without a card.

    Where: a station, else a circuit with all stations below it, else the whole site.
    """

    id: str
    site_id: str
    member_id: str | None = None
    group_id: str | None = None
    circuit_id: str | None = None
    station_id: str | None = None
    created_at: datetime

    @property
    def for_everyone(self) -> bool:
        return self.member_id is None and self.group_id is None


@dataclass(frozen=True, slots=True)
class Place:
    """A station as rights see it. `path` holds the ids of its circuit and of all that feed it."""

    station_id: str
    site_id: str | None = None
    path: tuple[str, ...] = ()


def covers(right: Right, place: Place) -> bool:
    """Whether `right` holds at `place`, whoever it is for."""
    if right.station_id is not None:
        return right.station_id == place.station_id
    if right.circuit_id is not None:
        return right.circuit_id in place.path
    return right.site_id == place.site_id
