"""Register values to energy: segments, resets, placeholders and values that cannot be.

A register counts Wh and never falls. Stations send otherwise: registers that start again at a
reboot, a placeholder 0 before the lifetime value, a stop value older than the last sample, and
plain nonsense. The rules here (a margin of 1.2 on the station's power, a quarter of an hour by
which a stop may lag behind) are common practice, not a standard's.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum, StrEnum

MARGIN = 1.2
RESOLUTION_WH = 1000
"""The coarsest step of a register: some count whole kWh."""
NOISE_WH = 10
"""A sample may be so much lower than the one before without meaning anything: rounding."""
STALE_S = 900
"""How old a stop's register may be: one sampling interval, seldom above a quarter of an hour."""


class Source(IntEnum):
    """Where a register value came from; the order is the rank among values of one instant."""

    START = 0
    SAMPLE = 1
    END_SAMPLE = 2
    STOP = 3


class Flag(StrEnum):
    """What was odd about a series."""

    REGISTER_RESET = "register_reset"
    REGISTER_JUMP = "register_jump"
    PLACEHOLDER_ZERO = "placeholder_zero"
    IMPLAUSIBLE_VALUE = "implausible_value"
    REGISTER_CONFLICT = "register_conflict"


@dataclass(frozen=True, slots=True)
class Point:
    """A register's value at one instant."""

    at: datetime
    register_wh: int
    source: Source = Source.SAMPLE


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """`energy_wh` is what the session had drawn by then, `register_wh` what the meter showed."""

    at: datetime
    register_wh: int
    energy_wh: int


@dataclass(frozen=True, slots=True)
class Meter:
    """The state of the fold. `suspect` is a value that fits nothing yet: the next one decides."""

    energy_wh: int = 0
    first_wh: int | None = None
    last_wh: int | None = None
    last_at: datetime | None = None
    suspect: Point | None = None
    flags: frozenset[Flag] = frozenset()

    def step(self, point: Point, max_power_w: float) -> "Meter":
        """The state after `point`, which must not be earlier than the last one."""
        if self.last_wh is None or self.last_at is None:
            return Meter(0, point.register_wh, point.register_wh, point.at, None, self.flags)
        gained_wh = point.register_wh - self.last_wh
        if _plausible(gained_wh, self.last_at, point.at, max_power_w):
            flags = self.flags if self.suspect is None else self.flags | {Flag.IMPLAUSIBLE_VALUE}
            energy_wh = self.energy_wh + gained_wh
            return Meter(energy_wh, self.first_wh, point.register_wh, point.at, None, flags)
        if self.suspect is not None:
            since_wh = point.register_wh - self.suspect.register_wh
            if _plausible(since_wh, self.suspect.at, point.at, max_power_w):
                return self._go_on_from(self.suspect, point, max_power_w)
        elif gained_wh > 0 and self.last_wh == 0 and self.energy_wh == 0:
            flags = self.flags | {Flag.PLACEHOLDER_ZERO}
            return Meter(0, point.register_wh, point.register_wh, point.at, None, flags)
        elif -NOISE_WH <= gained_wh < 0 and point.source is Source.SAMPLE:
            return self
        return replace(self, suspect=point)

    def settled(self, max_power_w: float) -> "Meter":
        """The state when nothing more will come: what to think of a last value that did not fit."""
        last = self.suspect
        if last is None or self.last_wh is None:
            return self
        if last.register_wh > self.last_wh:
            return replace(self, suspect=None, flags=self.flags | {Flag.IMPLAUSIBLE_VALUE})
        if self._merely_stale(last, max_power_w):
            return self._take_back(last)
        return replace(self, suspect=None, flags=self.flags | {Flag.REGISTER_RESET})

    def _go_on_from(self, suspect: Point, point: Point, max_power_w: float) -> "Meter":
        """Two values agree with each other and not with the past: the register was set anew."""
        assert self.last_wh is not None
        if suspect.register_wh > self.last_wh:
            flag = Flag.REGISTER_JUMP
        elif self._merely_stale(suspect, max_power_w):
            return self._take_back(suspect).step(point, max_power_w)
        else:
            flag = Flag.REGISTER_RESET
        energy_wh = self.energy_wh + point.register_wh - suspect.register_wh
        return Meter(energy_wh, self.first_wh, point.register_wh, point.at, None, self.flags | {flag})

    def _merely_stale(self, last: Point, max_power_w: float) -> bool:
        """Whether a closing value below the samples is only older than they are."""
        assert self.first_wh is not None
        assert self.last_wh is not None
        drop_wh = self.last_wh - last.register_wh
        allowed_wh = max_power_w * STALE_S / 3600 + NOISE_WH
        closing = last.source >= Source.END_SAMPLE
        return closing and last.register_wh >= max(1, self.first_wh) and drop_wh <= allowed_wh

    def _take_back(self, last: Point) -> "Meter":
        """The closing value outranks the samples: it is what is billed.

        Less by rounding is no conflict: OCPP 1.6's stop is in whole Wh, while samples have decimals.
        """
        assert self.last_wh is not None
        drop_wh = self.last_wh - last.register_wh
        energy_wh = max(0, self.energy_wh - drop_wh)
        flags = self.flags | {Flag.REGISTER_CONFLICT} if drop_wh > NOISE_WH else self.flags
        return Meter(energy_wh, self.first_wh, last.register_wh, last.at, None, flags)


def measure(
    points: Iterable[Point],
    *,
    max_power_w: float,
    started_at: datetime | None = None,
    ended_at: datetime | None = None,
) -> Meter:
    """The energy of a session from its register values in any order, repeats included.

    With `ended_at` nothing more will come. Samples from before the start or after the end do not
    count (a clock-aligned value carries the start of its interval).
    """
    meter = Meter()
    for point in in_order(points, started_at=started_at, ended_at=ended_at):
        meter = meter.step(point, max_power_w)
    return meter if ended_at is None else meter.settled(max_power_w)


def curve(
    points: Iterable[Point],
    *,
    max_power_w: float,
    started_at: datetime | None = None,
    ended_at: datetime | None = None,
) -> tuple[CurvePoint, ...]:
    """How the energy grew: in order of time, never falling, the last one what `measure` says."""
    meter = Meter()
    found: list[CurvePoint] = []
    for point in in_order(points, started_at=started_at, ended_at=ended_at):
        after = meter.step(point, max_power_w)
        if after.first_wh != meter.first_wh:
            found.clear()
        if after is not meter and after.suspect is None and after.last_wh is not None:
            found.append(CurvePoint(point.at, after.last_wh, after.energy_wh))
        meter = after
    if ended_at is not None:
        meter = meter.settled(max_power_w)
    most_wh = meter.energy_wh
    capped = [replace(point, energy_wh=min(point.energy_wh, most_wh)) for point in found]
    if capped and capped[-1].energy_wh != most_wh:
        capped.append(replace(capped[-1], energy_wh=most_wh))
    return tuple(capped)


def energy_at(points: Sequence[CurvePoint], at: datetime) -> tuple[int, bool]:
    """Energy drawn by `at` in Wh, and whether it had to be interpolated between two readings.

    Differences of it over adjoining intervals add up to the whole exactly.
    """
    before = [point for point in points if point.at <= at]
    after = [point for point in points if point.at > at]
    if not before:
        return 0, False
    low = before[-1]
    if low.at == at or not after:
        return low.energy_wh, False
    high = after[0]
    share = (at - low.at) / (high.at - low.at)
    return low.energy_wh + int((high.energy_wh - low.energy_wh) * share + 0.5), True


def in_order(
    points: Iterable[Point], *, started_at: datetime | None = None, ended_at: datetime | None = None
) -> list[Point]:
    """The points that count, each once, as the fold wants them: closing values last."""

    def counts(point: Point) -> bool:
        if point.source is not Source.SAMPLE:
            return True
        return (started_at is None or point.at >= started_at) and (ended_at is None or point.at <= ended_at)

    def order(point: Point) -> tuple[datetime, int, int]:
        at = point.at
        if point.source is Source.START and started_at is not None:
            at = min(at, started_at)
        elif ended_at is not None:
            at = min(at, ended_at)
        return at, point.source, point.register_wh

    return sorted({point for point in points if counts(point)}, key=order)


def _plausible(gained_wh: int, since: datetime, at: datetime, max_power_w: float) -> bool:
    if gained_wh < 0:
        return False
    if gained_wh <= RESOLUTION_WH:
        return True
    elapsed_s = max(0.0, (at - since).total_seconds())
    return gained_wh <= max_power_w * elapsed_s / 3600 * MARGIN + RESOLUTION_WH
