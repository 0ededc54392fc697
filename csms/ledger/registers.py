"""A session's energy over time from its registers, and what to do where one is missing.

A month has many sessions, so instants are whole seconds since 1970 and nothing is an object per value.
The usual session, whose registers rise from its start to its stop, is taken as it is; anything odd goes
through `csms.metering.series`. Where the stop's register is missing: the next session's start register
on the EVSE, then a value of the EVSE between sessions, then one of the station; else the average power
of the EVSE's sessions. What was found so is flagged, and made good when the true value comes.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from csms.ledger.statement import Flag
from csms.metering.series import Point, Source, curve

LARGEST_EXTRA_WH = 150_000
"""What a session without a stop may have drawn after its last reading (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRow:
    """A session as stored. Instants in s since 1970. `known`: its token was accepted."""

    id: int
    station_id: str
    evse: int
    token_id: str | None
    token_text: str
    member_id: str | None
    known: bool
    started: int
    ended: int | None
    arrived: int
    register_start_wh: int | None
    register_stop_wh: int | None
    energy_wh: int
    marked: bool
    start_seen: bool = True
    stop_seen: bool = True
    tariff_id: str | None = None
    tariff: str = ""
    currency: str | None = None
    cost_excl_minor: int | None = None
    cost_incl_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A register value around a session: where it comes from, its instant and the value."""

    source: str
    at: int
    register_wh: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """`points`: (instant, Wh drawn by then), rising; the last one is all of it. `base_wh`: the register at
    its beginning, None where the meter was changed or started anew. `extra_wh`: what was not told by the
    session itself, of which `reason` says where it comes from."""

    points: tuple[tuple[int, int], ...]
    base_wh: int | None
    end: int
    extra_wh: int = 0
    reason: str = ""
    flags: tuple[Flag, ...] = ()

    @property
    def energy_wh(self) -> int:
        return self.points[-1][1] if self.points else 0

    def drawn(self, at: int) -> tuple[int, bool]:
        """Wh drawn by `at`, and whether it was interpolated; halves up, as `csms.metering.cutting`."""
        points = self.points
        place = bisect_right(points, at, key=lambda point: point[0])
        if place == 0:
            return 0, False
        low_at, low_wh = points[place - 1]
        if place == len(points) or low_at == at:
            return low_wh, False
        high_at, high_wh = points[place]
        gained = high_wh - low_wh
        if not gained:
            return low_wh, False
        whole = high_at - low_at
        return low_wh + (2 * gained * (at - low_at) + whole) // (2 * whole), True


def measured(
    row: SessionRow,
    told: Sequence[tuple[int, int]],
    max_power_w: float,
    neighbours: Iterable[Neighbour] = (),
    average_w: int = 0,
    now: int | None = None,
) -> Measured:
    """`told`: (instant, register) of its readings in order of time. `neighbours` in order of rank."""
    end = row.ended if row.ended is not None else max(row.started, now or row.started)
    found = _plain(row, told, end) or _odd(row, told, max_power_w, end)
    if row.ended is None or (row.stop_seen and row.register_stop_wh is not None):
        return found
    return _completed(found, row, neighbours, average_w)


def _plain(row: SessionRow, told: Sequence[tuple[int, int]], end: int) -> Measured | None:
    """The session if its registers rise and add up to its energy; None otherwise."""
    if row.marked or row.register_start_wh is None:
        return None
    base, started = row.register_start_wh, row.started
    points, before = [(started, 0)], 0
    for at, register in told:
        if started < at < end:
            wh = register - base
            if wh < before:
                return None
            points.append((at, wh))
            before = wh
    last = row.register_stop_wh if row.ended is not None else None
    whole = before if last is None else last - base
    if whole != row.energy_wh:
        if last is not None or not told or told[-1][1] - base != row.energy_wh:
            return None
        whole = row.energy_wh
    if whole < before:
        return None
    points.append((end, whole))
    return Measured(points=tuple(points), base_wh=base, end=end)


def _odd(row: SessionRow, told: Sequence[tuple[int, int]], max_power_w: float, end: int) -> Measured:
    points = [Point(_instant(at), register) for at, register in told]
    if row.start_seen and row.register_start_wh is not None:
        points.append(Point(_instant(row.started), row.register_start_wh, Source.START))
    if row.ended is not None and row.stop_seen and row.register_stop_wh is not None:
        points.append(Point(_instant(row.ended), row.register_stop_wh, Source.STOP))
    folded = curve(
        points,
        max_power_w=max_power_w,
        started_at=_instant(row.started),
        ended_at=None if row.ended is None else _instant(end),
    )
    found = [(min(max(_second(p.at), row.started), end), min(p.energy_wh, row.energy_wh)) for p in folded]
    if not found or found[0][0] > row.started:
        found.insert(0, (row.started, 0))
    if found[-1][1] != row.energy_wh or found[-1][0] < end:
        found.append((end, row.energy_wh))
    registers = [p.register_wh for p in folded]
    steady = bool(folded) and all(
        after - before == q.energy_wh - p.energy_wh
        for (before, p), (after, q) in pairwise(zip(registers, folded, strict=True))
    )
    base = registers[0] - folded[0].energy_wh if steady else None
    flags = () if steady or not folded else (Flag.REGISTER_RESET,)
    return Measured(points=tuple(found), base_wh=base, end=end, flags=flags)


def _completed(found: Measured, row: SessionRow, neighbours: Iterable[Neighbour], average_w: int) -> Measured:
    """With what a missing stop leaves out, from the first neighbour that fits."""
    last_wh = None if found.base_wh is None else found.base_wh + found.energy_wh
    for neighbour in neighbours:
        if last_wh is None or neighbour.at < row.started:
            continue
        extra = neighbour.register_wh - last_wh
        if 0 <= extra <= LARGEST_EXTRA_WH:
            return _more(found, extra, neighbour.source)
    if found.energy_wh == 0 and average_w:
        return _more(found, average_w * (found.end - row.started) // 3600, "average")
    return found


def _more(found: Measured, extra_wh: int, reason: str) -> Measured:
    if not extra_wh:
        return found
    points = [point for point in found.points if point[0] < found.end]
    return Measured(
        points=(*points, (found.end, found.energy_wh + extra_wh)),
        base_wh=found.base_wh,
        end=found.end,
        extra_wh=extra_wh,
        reason=reason,
        flags=(*found.flags, Flag.ESTIMATED),
    )


def _instant(second: int) -> datetime:
    return datetime.fromtimestamp(second, UTC)


def _second(at: datetime) -> int:
    return int(at.timestamp())
