"""A session's energy and time cut at any instants: price intervals, midnights, a change of the payer.

What was drawn by an instant depends on that instant alone: the register there, else a straight line
between the readings around it, in whole Wh, halves up. So pieces sum exactly to the whole however
often it is cut, and one cut more changes no other piece's edge. A value between two equal readings is
known, not interpolated.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from csms.metering.series import CurvePoint

_TICK = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyPiece:
    """`energy_wh` drawn from `start` to before `end` (aware UTC); `from_wh` the session had before.

    `interpolated`: at one of its edges the register was not read.
    """

    start: datetime
    end: datetime
    from_wh: int
    energy_wh: int
    interpolated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TimePiece:
    """How long it took from `start` to `end`: the three sum to `end - start` exactly.

    `parking`: the vehicle asked for no power; `paused`: we held it back, whatever it asked for.
    """

    start: datetime
    end: datetime
    charging: timedelta
    parking: timedelta
    paused: timedelta


@dataclass(frozen=True, slots=True)
class Span:
    """From `start` to before `end`; None: to the end of what is cut."""

    start: datetime
    end: datetime | None = None


def cut_energy(
    points: Sequence[CurvePoint], start: datetime, end: datetime, at: Iterable[datetime]
) -> tuple[EnergyPiece, ...]:
    """The session from `start` to `end` cut at the instants of `at` that lie between them.

    `points` as `metering.series.curve` gives them. Their sum is the curve's last energy, exactly;
    without any cut there is one piece. Values from outside the session count at its nearer end.
    """
    times = [min(max(point.at, start), end) for point in points]
    edges = _edges(start, end, at)
    whole_wh = points[-1].energy_wh if points else 0
    drawn = [(0, False), *(_drawn(points, times, edge) for edge in edges[1:-1]), (whole_wh, False)]
    return tuple(
        EnergyPiece(
            start=low,
            end=high,
            from_wh=before_wh,
            energy_wh=after_wh - before_wh,
            interpolated=guessed_before or guessed_after,
        )
        for (low, high), ((before_wh, guessed_before), (after_wh, guessed_after)) in zip(
            pairwise(edges), pairwise(drawn), strict=True
        )
    )


def cut_time(
    start: datetime,
    end: datetime,
    at: Iterable[datetime],
    *,
    idle: Iterable[Span] = (),
    paused: Iterable[Span] = (),
) -> tuple[TimePiece, ...]:
    """The session's time cut at the same instants; spans may overlap each other and the session's ends."""
    edges = _edges(start, end, at)
    held = _merged(paused, start, end)
    resting = _without(_merged(idle, start, end), held)
    pieces = []
    for low, high in pairwise(edges):
        pause, parking = _within(held, low, high), _within(resting, low, high)
        charging = high - low - pause - parking
        pieces.append(TimePiece(start=low, end=high, charging=charging, parking=parking, paused=pause))
    return tuple(pieces)


def _edges(start: datetime, end: datetime, at: Iterable[datetime]) -> list[datetime]:
    start, end = start.astimezone(UTC), end.astimezone(UTC)
    return [start, *sorted({mark.astimezone(UTC) for mark in at if start < mark < end}), end]


def _drawn(points: Sequence[CurvePoint], times: Sequence[datetime], at: datetime) -> tuple[int, bool]:
    """Wh drawn by `at`, and whether that had to be interpolated."""
    place = bisect_right(times, at)
    if place == 0:
        return 0, False
    low = points[place - 1]
    if place == len(points) or times[place - 1] == at:
        return low.energy_wh, False
    gained_wh = points[place].energy_wh - low.energy_wh
    if gained_wh == 0:
        return low.energy_wh, False
    passed, whole = (at - times[place - 1]) // _TICK, (times[place] - times[place - 1]) // _TICK
    return low.energy_wh + (2 * gained_wh * passed + whole) // (2 * whole), True


_Stretch = tuple[datetime, datetime]


def _merged(spans: Iterable[Span], start: datetime, end: datetime) -> list[_Stretch]:
    """The spans within the session, in order, those that touch joined."""
    inside = ((max(s.start, start), end if s.end is None else min(s.end, end)) for s in spans)
    found: list[_Stretch] = []
    for low, high in sorted(stretch for stretch in inside if stretch[0] < stretch[1]):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def _without(stretches: Sequence[_Stretch], gone: Sequence[_Stretch]) -> list[_Stretch]:
    left = list(stretches)
    for low, high in gone:
        left = [part for a, b in left for part in ((a, min(b, low)), (max(a, high), b)) if part[0] < part[1]]
    return left


def _within(stretches: Sequence[_Stretch], low: datetime, high: datetime) -> timedelta:
    shared = (min(b, high) - max(a, low) for a, b in stretches)
    return sum((each for each in shared if each > timedelta(0)), timedelta(0))
