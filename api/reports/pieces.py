"""Sessions cut at edges of time: how much of a session's energy and cost lies between two of them.

The energy by an edge is linear between the registers on both sides of it, and the pieces of a session
sum to its energy and cost exactly (each is the difference of two rounded running sums). Two queries for
any number of sessions: the sessions, and of each hour or so of each the first and the last register.
"""

from bisect import bisect_right
from collections.abc import AsyncIterator, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.ext.asyncio import AsyncConnection

from api.reports.spans import epoch
from csms.store.tables.metering import reading as readings
from csms.store.tables.sessions import session as sessions

AT_ONCE = 10_000
"""Rows that are held at a time."""

Point = tuple[float, int]
"""Seconds since 1970, register in Wh."""


@dataclass(frozen=True, slots=True)
class Charged:
    """A session as reports need it. Amounts in minor units, None where there is no price (`excl`) or
    the VAT is not told (`incl`). `ended_s` of one that runs is now."""

    id: int
    station_id: str
    evse: int | None
    token_id: str | None
    member_id: str | None
    verdict: str
    open: bool
    marked: bool
    currency: str | None
    excl: int | None
    incl: int | None
    energy_wh: int
    started_s: float
    ended_s: float
    points: tuple[Point, ...]


class Piece(NamedTuple):
    """What lies in the interval that begins at edge `place`. `estimated`: cut between two readings."""

    place: int
    energy_wh: int
    excl: int
    incl: int
    estimated: bool


def overlapping(site_id: str, start: datetime, end: datetime) -> ColumnElement[bool]:
    """Sessions of a site of which something lies in the period."""
    return and_(
        sessions.c.site_id == site_id,
        sessions.c.started_at < end,
        or_(sessions.c.ended_at.is_(None), sessions.c.ended_at > start, sessions.c.started_at >= start),
    )


def crossing(start: datetime, end: datetime) -> ColumnElement[bool]:
    """Sessions that lie on one of the two edges: only they have to be cut."""
    return or_(sessions.c.started_at < start, sessions.c.ended_at.is_(None), sessions.c.ended_at > end)


async def charged(
    connection: AsyncConnection, wanted: ColumnElement[bool], now: datetime, step_s: int, shift_s: int
) -> AsyncIterator[Charged]:
    """The sessions that are wanted, each with its registers: of every `step_s` seconds, beginning
    `shift_s` before a multiple of it, the first and the last. By station and id."""
    query = select(
        sessions.c.id,
        sessions.c.station_id,
        sessions.c.evse,
        sessions.c.token_id,
        sessions.c.member_id,
        sessions.c.verdict,
        sessions.c.marks,
        sessions.c.currency,
        sessions.c.cost_excl_minor,
        sessions.c.cost_incl_minor,
        sessions.c.energy_wh,
        epoch(sessions.c.started_at).label("started_s"),
        epoch(sessions.c.ended_at).label("ended_s"),
        sessions.c.register_start_wh,
        sessions.c.register_stop_wh,
    ).where(wanted)
    found = (await connection.execute(query.order_by(sessions.c.id))).all()
    at = epoch(readings.c.at)
    bucket = ((at + shift_s) // step_s).label("bucket")
    query = (
        select(
            readings.c.session_id,
            bucket,
            func.min(at).label("first_s"),
            func.max(at).label("last_s"),
            func.min(readings.c.register_wh).label("first_wh"),
            func.max(readings.c.register_wh).label("last_wh"),
        )
        .join(sessions, sessions.c.id == readings.c.session_id)
        .where(wanted, readings.c.register_wh.is_not(None))
        .group_by(readings.c.session_id, bucket)
        .order_by(readings.c.session_id, bucket)
    )
    now_s = now.timestamp()
    async with connection.stream(query, execution_options={"yield_per": AT_ONCE}) as result:
        waiting: Sequence[Any] = await result.fetchmany(AT_ONCE)
        place = 0
        for each in found:
            points: list[Point] = []
            while waiting:
                if place == len(waiting):
                    waiting, place = await result.fetchmany(AT_ONCE), 0
                    continue
                session_id, _, first_s, last_s, first_wh, last_wh = waiting[place]
                if session_id > each.id:
                    break
                place += 1
                if session_id == each.id:
                    points.append((first_s, first_wh))
                    if last_s > first_s:
                        points.append((last_s, last_wh))
            yield _session(each, points, now_s)


def _session(row: Any, points: list[Point], now_s: float) -> Charged:
    start, end = row.started_s, row.ended_s if row.ended_s is not None else max(now_s, row.started_s)
    if row.register_start_wh is not None:
        points = [(start, row.register_start_wh), *points]
    if row.register_stop_wh is not None and row.ended_s is not None:
        points = [*points, (end, row.register_stop_wh)]
    return Charged(
        id=row.id,
        station_id=row.station_id,
        evse=row.evse,
        token_id=row.token_id,
        member_id=row.member_id,
        verdict=row.verdict,
        open=row.ended_s is None,
        marked=bool(row.marks),
        currency=row.currency,
        excl=row.cost_excl_minor,
        incl=row.cost_incl_minor,
        energy_wh=row.energy_wh,
        started_s=start,
        ended_s=end,
        points=tuple(points),
    )


def cut(session: Charged, edges: Sequence[float]) -> Iterator[Piece]:
    """The pieces of the session between `edges` (seconds since 1970, in order) that hold anything.

    What lies before the first edge and after the last is in none. A session without energy has its
    cost where it began.
    """
    if not edges:
        return
    curve = running(session)
    times = [at for at, _ in curve]
    energy_wh, excl, incl = session.energy_wh, session.excl or 0, session.incl
    incl = excl if incl is None else incl
    started_s, ended_s = session.started_s, session.ended_s
    first = max(0, bisect_right(edges, started_s) - 1)
    share, estimated = _by(curve, times, edges[0]) if first == 0 else (0.0, False)
    before = (_part(energy_wh, share), _part(excl, share), _part(incl, share))
    for place in range(first, len(edges) - 1):
        low, high = edges[place], edges[place + 1]
        here = low <= started_s < high
        if low >= ended_s and not here:
            return
        share, next_estimated = _by(curve, times, high)
        after = (_part(energy_wh, share), _part(excl, share), _part(incl, share))
        if energy_wh > 0:
            piece = Piece(
                place,
                after[0] - before[0],
                after[1] - before[1],
                after[2] - before[2],
                estimated or next_estimated,
            )
        else:
            piece = Piece(place, 0, excl if here else 0, incl if here else 0, False)
        if here or piece.energy_wh or piece.excl or piece.incl:
            yield piece
        before, estimated = after, next_estimated


def running(session: Charged) -> list[tuple[float, float]]:
    """(seconds since 1970, share of the energy by then from 0 to 1), never falling.

    A register that falls begins anew; without any registers the energy is spread evenly.
    """
    start, end = session.started_s, session.ended_s
    clipped = [(min(max(at, start), end), wh) for at, wh in session.points]
    sums: list[tuple[float, float]] = []
    total = 0.0
    for place, (at, wh) in enumerate(clipped):
        if place:
            total += max(0, wh - clipped[place - 1][1])
        if sums and at < sums[-1][0]:
            at = sums[-1][0]
        sums.append((at, total))
    if total <= 0:
        return [(start, 0.0), (max(end, start), 1.0)]
    return [(at, so_far / total) for at, so_far in sums]


def _by(curve: Sequence[tuple[float, float]], times: Sequence[float], at: float) -> tuple[float, bool]:
    """The share by an instant, and whether it lies between two readings with energy between them.

    `times` are those of the curve.
    """
    place = bisect_right(times, at)
    if place == 0:
        return 0.0, False
    low_s, low = curve[place - 1]
    if place == len(curve):
        return low, False
    high_s, high = curve[place]
    if low_s == at or high == low:
        return low, False
    return low + (high - low) * (at - low_s) / (high_s - low_s), True


def _part(whole: int, share: float) -> int:
    """Half up, away from nought."""
    if share == 1.0 or not whole:
        return whole
    return int(whole * share + 0.5) if whole > 0 else -int(-whole * share + 0.5)


def seconds(edges: Iterable[datetime]) -> list[float]:
    """Edges as `cut` wants them."""
    return [edge.timestamp() for edge in edges]
