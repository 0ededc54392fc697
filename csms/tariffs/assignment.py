"""Which tariff a session is priced by: the most specific assignment that fits, and why.

An assignment says for whom (a member group, guests, anyone) and where (a station, the site). Whom
outweighs where; between equals the one that began later wins, then the lower id. What is valid at
the session's start applies to all of it, even if another takes over meanwhile.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from csms.errors import InvalidInput
from csms.tariffs.tariff import Tariff


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A tariff given to a site, narrowed to a station, a member group or guests, or both.

    Valid from `valid_from` inclusive to `valid_until` exclusive (aware), None: open.
    """

    id: str
    tariff_id: str
    site_id: str
    station_id: str | None = None
    group_id: str | None = None
    guests: bool = False
    valid_from: datetime | None = None
    valid_until: datetime | None = None

    def __post_init__(self) -> None:
        if self.group_id is not None and self.guests:
            raise InvalidInput("guests", "a guest is in no member group; make two assignments")

    @property
    def specificity(self) -> int:
        """3: whom and where, 2: whom, 1: where, 0: the whole site."""
        return 2 * (self.group_id is not None or self.guests) + (self.station_id is not None)

    def describe(self) -> str:
        whom = f"group {self.group_id}" if self.group_id else "guests" if self.guests else "anyone"
        where = f"station {self.station_id}" if self.station_id else f"site {self.site_id}"
        return f"{whom} at {where}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """A session's start (aware), and who charges where. A guest has no groups."""

    start: datetime
    site_id: str
    station_id: str
    group_ids: frozenset[str] = frozenset()
    guest: bool = False


@dataclass(frozen=True, slots=True)
class Choice:
    """The assignment that wins, None when none fits, and the reason in words."""

    assignment: Assignment | None
    reason: str


def choose(assignments: Iterable[Assignment], tariffs: Mapping[str, Tariff], occasion: Occasion) -> Choice:
    """The assignment for the session. `tariffs` by id; one whose tariff is unknown or not valid at
    the start gives way to the next."""
    fitting = [a for a in assignments if _fits(a, occasion)]
    usable = [a for a in fitting if a.tariff_id in tariffs and tariffs[a.tariff_id].valid_at(occasion.start)]
    lapsed = [a for a in fitting if a not in usable]
    aside = "".join(f"; tariff {a.tariff_id} for {a.describe()} is not valid then" for a in lapsed)
    if not usable:
        return Choice(None, f"no tariff is assigned that is valid at {occasion.start.isoformat()}{aside}")
    best = min(usable, key=_rank)
    others = len(usable) - 1
    over = f", before {others} less specific or older" if others else ", the only one that fits"
    return Choice(best, f"tariff {best.tariff_id} for {best.describe()}{over}{aside}")


def _fits(a: Assignment, occasion: Occasion) -> bool:
    return (
        a.site_id == occasion.site_id
        and a.station_id in (None, occasion.station_id)
        and (a.group_id is None or a.group_id in occasion.group_ids)
        and (not a.guests or occasion.guest)
        and (a.valid_from is None or a.valid_from <= occasion.start)
        and (a.valid_until is None or occasion.start < a.valid_until)
    )


def _rank(a: Assignment) -> tuple[int, float, str]:
    began = float("-inf") if a.valid_from is None else a.valid_from.timestamp()
    return -a.specificity, -began, a.id
