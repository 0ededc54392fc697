"""What a station makes of the charging profiles it holds: installing, replacing, clearing, combining.

Own reading of OCPP 1.6 section 3.13 (with errata 4.0) and OCPP 2.0.1 block K: per purpose the highest stack
level whose schedule has a period at the instant leads; a transaction's profile overrules the default where
it has a period; a default for one EVSE overrules the default for all; the composite is the lowest of what
leads, in one unit.
"""

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

NOMINAL_V: Final = 230.0
ALL_EVSES: Final = 0
DAY: Final = timedelta(days=1)


class Purpose(StrEnum):
    STATION_MAX = "station_max"
    TX_DEFAULT = "tx_default"
    TX = "tx"


class Kind(StrEnum):
    ABSOLUTE = "Absolute"
    RECURRING = "Recurring"
    RELATIVE = "Relative"


class Unit(StrEnum):
    A = "A"
    W = "W"


@dataclass(frozen=True, slots=True)
class Period:
    """From `start_s` on, `limit` in the schedule's unit: A per line, or W over `number_phases` lines."""

    start_s: int
    limit: float
    number_phases: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One profile; `recurs` is the length of a Recurring one (a day or a week), `evse_id` 0 means all."""

    id: int
    purpose: Purpose
    stack_level: int
    kind: Kind
    unit: Unit
    periods: tuple[Period, ...]
    evse_id: int = ALL_EVSES
    starts_at: datetime | None = None
    duration_s: int | None = None
    recurs: timedelta | None = None
    valid_from: datetime | None = None
    valid_to: datetime | None = None
    transaction_id: str | None = None

    def valid(self, at: datetime) -> bool:
        return (self.valid_from is None or self.valid_from <= at) and (
            self.valid_to is None or at < self.valid_to
        )

    def anchor(self, at: datetime, relative_to: datetime | None) -> datetime | None:
        """When the schedule that runs at this moment began; None when none does."""
        if self.kind is Kind.RELATIVE:
            return relative_to
        if self.starts_at is None:
            return None
        if self.kind is Kind.RECURRING and self.recurs is not None:
            return self.starts_at + self.recurs * ((at - self.starts_at) // self.recurs)
        return self.starts_at

    def period_at(self, at: datetime, relative_to: datetime | None) -> Period | None:
        """The period in force, None outside validity, before the start and after the duration."""
        anchor = self.anchor(at, relative_to)
        if anchor is None or at < anchor or not self.valid(at):
            return None
        passed_s = (at - anchor).total_seconds()
        if self.duration_s is not None and passed_s >= self.duration_s:
            return None
        running = [period for period in self.periods if period.start_s <= passed_s]
        return running[-1] if running else None

    def edges(self, begin: datetime, end: datetime, relative_to: datetime | None) -> Iterator[datetime]:
        """Every moment in (begin, end) at which this profile may change what it says."""
        for edge in (self.valid_from, self.valid_to):
            if edge is not None:
                yield edge
        anchor = self.anchor(begin, relative_to)
        while anchor is not None and anchor < end:
            for period in self.periods:
                yield anchor + timedelta(seconds=period.start_s)
            if self.duration_s is not None:
                yield anchor + timedelta(seconds=self.duration_s)
            anchor = anchor + self.recurs if self.kind is Kind.RECURRING and self.recurs else None

    def overlaps(self, other: "Profile") -> bool:
        """Whether both are valid at some moment."""
        begins_late = self.valid_from and other.valid_to and self.valid_from >= other.valid_to
        ends_early = other.valid_from and self.valid_to and other.valid_from >= self.valid_to
        return not begins_late and not ends_early


def to_amperes(limit: float, unit: Unit, phases: int) -> float:
    """A per line; W are shared evenly over the lines at nominal voltage (OCPP 1.6 section 7.12)."""
    return limit if unit is Unit.A else limit / (NOMINAL_V * phases)


def to_watts(limit_a: float, phases: int) -> float:
    return limit_a * NOMINAL_V * phases


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """The transaction at an EVSE as profiles see it."""

    transaction_id: str
    started_at: datetime


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit in A per line, with the lines that a conversion to W has to use."""

    current_a: float
    phases: int = 3


class ProfileStore:
    """All profiles of one station. `keeps` false models a station that forgets them at a reboot."""

    def __init__(self, *, keeps: bool = True) -> None:
        self.keeps = keeps
        self._profiles: list[Profile] = []

    def __iter__(self) -> Iterator[Profile]:
        return iter(tuple(self._profiles))

    def __len__(self) -> int:
        return len(self._profiles)

    def install(self, profile: Profile, *, by_level: bool) -> None:
        """Replace the profile of the same id; with `by_level` (1.6) also that of the same level and purpose
        there."""

        def replaced(old: Profile) -> bool:
            same_place = (old.purpose, old.stack_level, old.evse_id) == (
                profile.purpose,
                profile.stack_level,
                profile.evse_id,
            )
            return old.id == profile.id or (by_level and same_place)

        self._profiles = [old for old in self._profiles if not replaced(old)] + [profile]

    def conflict(self, profile: Profile) -> Profile | None:
        """Another profile that 2.x forbids beside this one (K01.FR.06, K01.FR.39)."""
        for old in self._profiles:
            place = (old.purpose, old.stack_level, old.evse_id) == (
                profile.purpose,
                profile.stack_level,
                profile.evse_id,
            )
            same_tx = profile.purpose is not Purpose.TX or old.transaction_id == profile.transaction_id
            if old.id != profile.id and place and same_tx and old.overlaps(profile):
                return old
        return None

    def clear(
        self,
        *,
        profile_id: int | None = None,
        evse_id: int | None = None,
        purpose: Purpose | None = None,
        stack_level: int | None = None,
    ) -> int:
        """Take out what matches all that is given, or only the id when that is given; return how many."""

        def matches(profile: Profile) -> bool:
            if profile_id is not None:
                return profile.id == profile_id
            return (
                evse_id in (None, profile.evse_id)
                and purpose in (None, profile.purpose)
                and stack_level in (None, profile.stack_level)
            )

        kept = [profile for profile in self._profiles if not matches(profile)]
        cleared = len(self._profiles) - len(kept)
        self._profiles = kept
        return cleared

    def transaction_over(self, evse_id: int) -> None:
        """A TxProfile dies with its transaction."""
        self._profiles = [p for p in self._profiles if not (p.purpose is Purpose.TX and p.evse_id == evse_id)]

    def reboot(self) -> None:
        """Transactions do not outlive a reboot; the rest stays where the station keeps it."""
        self._profiles = [p for p in self._profiles if self.keeps and p.purpose is not Purpose.TX]

    def evse_limit(self, evse_id: int, at: datetime, running: Running | None) -> Limit | None:
        """What the transaction's or the default profile says for this EVSE; None: nothing."""
        since = running.started_at if running else None
        mine = [
            p
            for p in self._profiles
            if p.purpose is Purpose.TX
            and p.evse_id == evse_id
            and running is not None
            and p.transaction_id in (None, running.transaction_id)
        ]
        here = [p for p in self._profiles if p.purpose is Purpose.TX_DEFAULT and p.evse_id == evse_id]
        everywhere = [p for p in self._profiles if p.purpose is Purpose.TX_DEFAULT and p.evse_id == ALL_EVSES]
        for candidates in (mine, here, everywhere):
            limit = leading(candidates, at, since)
            if limit is not None:
                return limit
        return None

    def station_limit(self, at: datetime) -> Limit | None:
        """What the station's maximum says for all EVSEs together; None: nothing."""
        return leading((p for p in self._profiles if p.purpose is Purpose.STATION_MAX), at, None)

    def limit(self, evse_id: int, at: datetime, running: Running | None) -> Limit | None:
        """The lowest of both; of two equal ones the one with fewer lines."""
        found = (self.station_limit(at), self.evse_limit(evse_id, at, running))
        limits = [limit for limit in found if limit is not None]
        return min(limits, key=lambda limit: limit.current_a) if limits else None

    def composite(
        self,
        evse_id: int,
        begin: datetime,
        duration_s: int,
        unit: Unit,
        running: Running | None,
        *,
        unlimited_a: float,
    ) -> list[Period]:
        """The schedule from `begin` on, merged where nothing changes; `unlimited_a` where no profile says
        anything."""
        end = begin + timedelta(seconds=duration_s)
        since = running.started_at if running else None
        edges = itertools.chain.from_iterable(p.edges(begin, end, since) for p in self._profiles)
        schedule: list[Period] = []
        for at in sorted({begin, *(edge for edge in edges if begin < edge < end)}):
            limit = self.limit(evse_id, at, running) or Limit(unlimited_a)
            value = limit.current_a if unit is Unit.A else to_watts(limit.current_a, limit.phases)
            value = round(value, 6)
            if not schedule or schedule[-1].limit != value:
                schedule.append(Period(int((at - begin).total_seconds()), value, limit.phases))
        return schedule


def leading(profiles: Iterable[Profile], at: datetime, relative_to: datetime | None) -> Limit | None:
    """The limit of the highest stack level that has a period now, in A per line."""
    for profile in sorted(profiles, key=lambda p: -p.stack_level):
        period = profile.period_at(at, relative_to)
        if period is not None:
            phases = period.number_phases
            return Limit(to_amperes(period.limit, profile.unit, phases), phases)
    return None
