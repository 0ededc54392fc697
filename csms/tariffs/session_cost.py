"""What a session that really happened costs: from its facts to a curve, and from that to a bill.

Energy comes from the register alone, linear between two readings, so that the pieces sum exactly
to the last reading minus the first. Time in which we paused the vehicle is neither charging nor
parking, also where the vehicle asked for nothing at the same time.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput
from csms.money import Exact
from csms.tariffs.bill import Priced
from csms.tariffs.component import GUEST, Payer
from csms.tariffs.curve import Curve, Segment, SegmentKind
from csms.tariffs.market.series import NO_MARKET, Market
from csms.tariffs.pricing import price
from csms.tariffs.tariff import Tariff


@dataclass(frozen=True, slots=True)
class Reading:
    """The station's energy register at an instant (aware)."""

    at: datetime
    register_wh: Exact


@dataclass(frozen=True, slots=True)
class Interval:
    """From `start` inclusive to `end` exclusive (aware); None: to the end of the session."""

    start: datetime
    end: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFacts:
    """A session as recorded. Times are aware; `registers` in any order, of one meter, never falling
    (a meter swap or reset is settled before).

    The first reading is the start register, the last the stop register, also where their clocks
    lie a little outside the session. `idle`: the vehicle asked for no power. `paused`: we held
    it back. Intervals may overlap each other and the session's ends.
    """

    start: datetime
    end: datetime
    registers: Sequence[Reading] = ()
    idle: Sequence[Interval] = ()
    paused: Sequence[Interval] = ()


def session_cost(
    tariff: Tariff,
    facts: SessionFacts,
    time_zone: str | ZoneInfo,
    market: Market = NO_MARKET,
    payer: Payer = GUEST,
) -> Priced:
    """Price the session by `tariff`, the one valid at its start, in the site's zone.

    Raises PricesMissing where energy follows a market that `market` does not have for all of it.
    """
    zone = time_zone if isinstance(time_zone, ZoneInfo) else ZoneInfo(time_zone)
    return price(tariff, session_curve(facts, zone), market, payer)


def session_curve(facts: SessionFacts, zone: ZoneInfo) -> Curve:
    """The facts as segments, cut at every reading and at the ends of every interval."""
    start, end = facts.start.astimezone(UTC), facts.end.astimezone(UTC)
    if end < start:
        raise InvalidInput("end", f"{end.isoformat()} is before the start, {start.isoformat()}")
    readings = _readings(facts.registers, start, end)
    marks = {start, end, *(at for at, _ in readings)}
    for interval in (*facts.idle, *facts.paused):
        for mark in (interval.start, interval.end):
            if mark is not None and start < mark < end:
                marks.add(mark.astimezone(UTC))
    points = sorted(marks)
    cumulated = [_register(at, readings) for at in points]
    segments = [
        Segment(
            kind=_kind(begin, facts),
            duration_s=_seconds(begin, finish),
            energy_wh=cumulated[i + 1] - cumulated[i],
        )
        for i, (begin, finish) in enumerate(pairwise(points))
    ]
    at_once = cumulated[0] - readings[0][1] if readings else Fraction(0)
    if at_once or not segments:
        # readings from before the start, or a session without length: energy that took no time
        segments.insert(0, Segment(kind=SegmentKind.CHARGING, duration_s=Fraction(0), energy_wh=at_once))
    return Curve(start=start, zone=zone, segments=tuple(segments))


def _readings(
    registers: Iterable[Reading], start: datetime, end: datetime
) -> list[tuple[datetime, Fraction]]:
    """In order of time, those outside the session moved to its nearer end."""
    ordered = sorted(registers, key=lambda reading: reading.at)
    for earlier, later in pairwise(ordered):
        if later.register_wh < earlier.register_wh:
            raise InvalidInput(
                "registers",
                f"fall from {earlier.register_wh} Wh to {later.register_wh} Wh at {later.at.isoformat()}; "
                "settle the meter's swap or reset first",
            )
    return [
        (min(max(reading.at.astimezone(UTC), start), end), Fraction(reading.register_wh))
        for reading in ordered
    ]


def _register(at: datetime, readings: Sequence[tuple[datetime, Fraction]]) -> Fraction:
    """The register at an instant: linear between readings, level before the first and after the last."""
    if not readings:
        return Fraction(0)
    place = bisect_right(readings, at, key=lambda reading: reading[0])
    if place == 0:
        return readings[0][1]
    before_at, before_wh = readings[place - 1]
    if place == len(readings) or before_at == at:
        return before_wh
    after_at, after_wh = readings[place]
    return before_wh + (after_wh - before_wh) * _seconds(before_at, at) / _seconds(before_at, after_at)


def _kind(at: datetime, facts: SessionFacts) -> SegmentKind:
    if _covers(facts.paused, at):
        return SegmentKind.PAUSED
    return SegmentKind.PARKING if _covers(facts.idle, at) else SegmentKind.CHARGING


def _covers(intervals: Iterable[Interval], at: datetime) -> bool:
    return any(i.start <= at and (i.end is None or at < i.end) for i in intervals)


def _seconds(begin: datetime, end: datetime) -> Fraction:
    passed = end - begin
    return Fraction(passed.days * 86400 + passed.seconds) + Fraction(passed.microseconds, 1_000_000)
