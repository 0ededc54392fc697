"""What an ownership is, and whose a thing was when. Times are aware UTC, from inclusive, to exclusive."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from csms.errors import InvalidInput
from csms.sites.model import check_id

ALL_EVSES = 0
"""As the EVSE of a space: the whole station."""


@dataclass(frozen=True, slots=True)
class Thing:
    """A token, or a space: a station's EVSE (`ALL_EVSES`: all that it has)."""

    token_id: str | None = None
    station_id: str | None = None
    evse: int | None = None

    def __str__(self) -> str:
        if self.token_id is not None:
            return f"token {self.token_id}"
        return f"space {self.station_id}/{self.evse}" if self.evse else f"space {self.station_id}"

    def meets(self, other: "Thing") -> bool:
        """Whether the two are one thing, or one lies in the other."""
        if self.token_id is not None or other.token_id is not None:
            return self.token_id == other.token_id
        if self.station_id != other.station_id:
            return False
        return self.evse == other.evse or ALL_EVSES in (self.evse, other.evse)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ownership:
    """`from_at` None: since ever; `to_at` None: until further notice."""

    id: str
    site_id: str
    thing: Thing
    member_id: str
    from_at: datetime | None = None
    to_at: datetime | None = None
    created_at: datetime

    def covers(self, at: datetime) -> bool:
        return (self.from_at is None or self.from_at <= at) and (self.to_at is None or at < self.to_at)

    def overlaps(self, from_at: datetime | None, to_at: datetime | None) -> bool:
        """Whether it holds at some instant of [from_at, to_at)."""
        begins_before_end = self.from_at is None or to_at is None or self.from_at < to_at
        ends_after_start = self.to_at is None or from_at is None or self.to_at > from_at
        return begins_before_end and ends_after_start


def check_ownership(new: Ownership, others: Iterable[Ownership]) -> Ownership:
    """`new` in its final form; InvalidInput names the field: one thing has one owner at a time."""
    check_id("id", new.id)
    thing = new.thing
    if (thing.token_id is None) == (thing.station_id is None):
        raise InvalidInput("token_id", "name a token, or a station with its EVSE, and not both")
    if thing.token_id is not None and thing.evse is not None:
        raise InvalidInput("evse", "a token has no EVSE; leave it out")
    if thing.station_id is not None:
        thing = replace(thing, evse=ALL_EVSES if thing.evse is None else thing.evse)
        if thing.evse is not None and thing.evse < 0:
            raise InvalidInput("evse", "must be 1 or more; 0 stands for the whole station")
    for field, at in (("from_at", new.from_at), ("to_at", new.to_at)):
        if at is not None and at.tzinfo is None:
            raise InvalidInput(field, "needs a time zone, e.g. 2026-11-01T00:00:00+01:00")
    if new.from_at is not None and new.to_at is not None and new.to_at <= new.from_at:
        raise InvalidInput("to_at", "must be later than from_at")
    for other in others:
        if other.id != new.id and other.thing.meets(thing) and other.overlaps(new.from_at, new.to_at):
            until = "further notice" if other.to_at is None else other.to_at.isoformat()
            raise InvalidInput(
                "from_at",
                f"{other.thing} belongs to {other.member_id} until {until} (ownership {other.id}); "
                "end that one first, or begin later",
            )
    return replace(new, thing=thing, from_at=_utc(new.from_at), to_at=_utc(new.to_at))


def owner_at(history: Sequence[Ownership], at: datetime) -> tuple[bool, str | None]:
    """(whether the history knows that time, whose the thing was then).

    The history does not know the time before its first entry; a hole in it, or what comes after its
    end, is known to be nobody's.
    """
    for each in history:
        if each.covers(at):
            return True, each.member_id
    first = min((each.from_at for each in history if each.from_at is not None), default=None)
    return first is not None and at >= first, None


def changes(history: Iterable[Ownership], start: datetime, end: datetime) -> tuple[datetime, ...]:
    """Instants strictly between at which the thing may have changed hands, in order."""
    marks = {at for each in history for at in (each.from_at, each.to_at) if at is not None}
    return tuple(sorted(at for at in marks if start < at < end))


def _utc(at: datetime | None) -> datetime | None:
    return None if at is None else at.astimezone(UTC)
