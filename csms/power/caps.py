"""Caps in watts that come and go: by the hour of the day, and by a signal from outside that ends.

A subscribed power may differ by the hour; a grid company's or an energy manager's signal holds from one
instant to another. Of all that are in force for a circuit the lowest counts, its standing `cap_w` too.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo

from csms.errors import InvalidInput


@dataclass(frozen=True, slots=True)
class CapWindow:
    """At most `cap_w` every day from `start` to before `end` by the site's own clock.

    An `end` that is not after `start` is on the next day; equal ones mean the whole day.
    """

    start: time
    end: time
    cap_w: float

    def __post_init__(self) -> None:
        _check_cap(self.cap_w)
        if self.start.tzinfo is not None or self.end.tzinfo is not None:
            raise InvalidInput("start", "must be a time of the site's own clock, without an offset")

    def holds(self, at: time) -> bool:
        """Whether it is in force at the wall clock's time `at`."""
        if self.start < self.end:
            return self.start <= at < self.end
        return at >= self.start or at < self.end


@dataclass(frozen=True, slots=True)
class CapSignal:
    """At most `cap_w` from `since` (None: always) to before `until`, whatever the hour; without a further
    signal it is over then. `reason`: who asks for it, and why, in their words."""

    cap_w: float
    until: datetime
    since: datetime | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        _check_cap(self.cap_w)
        for field, at in (("until", self.until), ("since", self.since)):
            if at is not None and at.tzinfo is None:
                raise InvalidInput(field, "must have an offset, e.g. 2026-11-02T17:00:00Z")

    def holds(self, now: datetime) -> bool:
        """Whether it is in force."""
        return (self.since is None or self.since <= now) and now < self.until


Signals = Mapping[str, tuple[CapSignal, ...]]
"""By circuit."""


def _check_cap(cap_w: float) -> None:
    if not math.isfinite(cap_w) or cap_w < 0:
        raise InvalidInput("cap_w", f"must be a finite number of watts, at least 0, not {cap_w}")


@dataclass(frozen=True, slots=True)
class Caps:
    """All temporary caps of a site by circuit; `zone` is the site's own clock."""

    zone: tzinfo
    windows: Mapping[str, tuple[CapWindow, ...]]
    signals: Signals

    def in_force(self, now: datetime) -> dict[str, float]:
        """The lowest temporary cap in W of each circuit that has one at `now`."""
        at = now.astimezone(self.zone).time()
        found: dict[str, float] = {}
        for circuit, windows in self.windows.items():
            _lower(found, circuit, (w.cap_w for w in windows if w.holds(at)))
        for circuit, signals in self.signals.items():
            _lower(found, circuit, (signal.cap_w for signal in signals if signal.holds(now)))
        return found

    def signal_in_force(self, circuit: str, now: datetime) -> CapSignal | None:
        """The lowest signal at `circuit`; None where there is none."""
        holding = [signal for signal in self.signals.get(circuit, ()) if signal.holds(now)]
        return min(holding, key=lambda signal: (signal.cap_w, signal.until), default=None)

    def next_change(self, now: datetime) -> datetime | None:
        """When `in_force` may next give something else (UTC); None: never."""
        today = now.astimezone(self.zone).date()
        edges = {edge for windows in self.windows.values() for w in windows for edge in (w.start, w.end)}
        # A wall clock shows an hour twice or never on the days it is changed: both readings are looked at.
        hours = [
            datetime.combine(today + timedelta(days=day), edge, self.zone).replace(fold=fold).astimezone(UTC)
            for edge in edges
            for day in (0, 1)
            for fold in (0, 1)
        ]
        ends = [
            at.astimezone(UTC)
            for signals in self.signals.values()
            for signal in signals
            for at in (signal.since, signal.until)
            if at is not None
        ]
        return min((at for at in [*hours, *ends] if at > now), default=None)


def _lower(found: dict[str, float], circuit: str, caps_w: Iterable[float]) -> None:
    lowest = min(caps_w, default=math.inf)
    if lowest < found.get(circuit, math.inf):
        found[circuit] = lowest
