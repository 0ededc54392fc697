"""A curve cut into pieces so short that no restriction, and no price of the market, switches inside one."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

from csms.tariffs.conditions import Moment, Restrictions, clock_edges
from csms.tariffs.curve import Segment, SegmentKind, after
from csms.units import NOMINAL_VOLTAGE_V


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a segment, its first instant (UTC, and what restrictions look at)."""

    segment: Segment
    at: datetime
    moment: Moment


def cut(
    segments: Sequence[Segment],
    start: datetime,
    zone: ZoneInfo,
    restrictions: Sequence[Restrictions],
    marks_at: Sequence[datetime] = (),
) -> Iterator[Piece]:
    """The pieces in order, cut at the instants `marks_at` as well.

    Their durations and energies sum exactly to those of the segments.
    """
    energies = sorted(
        {
            Fraction(v) * 1000
            for r in restrictions
            for v in (r.min_energy_kwh, r.max_energy_kwh)
            if v is not None
        }
    )
    durations = sorted(
        {Fraction(v) for r in restrictions for v in (r.min_duration_s, r.max_duration_s) if v is not None}
    )
    whole_s = sum((s.duration_s for s in segments), Fraction(0))
    by_clock = clock_edges(restrictions, start, after(start, whole_s), zone)
    edges = [_seconds(edge, start) for edge in (*by_clock, *marks_at)]
    instants = sorted({*durations, *edges})
    elapsed, energy = Fraction(0), Fraction(0)
    for segment in segments:
        marks = {Fraction(0), Fraction(1)}
        marks.update(_crossed(instants, elapsed, segment.duration_s))
        marks.update(_crossed(energies, energy, segment.energy_wh))
        current, power = current_and_power(segment)
        points = sorted(marks)
        for begin, end in pairwise(points):
            at = after(start, elapsed + segment.duration_s * begin)
            moment = Moment(
                local=at.astimezone(zone),
                energy_wh=energy + segment.energy_wh * begin,
                elapsed_s=elapsed + segment.duration_s * begin,
                current_a=current,
                power_w=power,
            )
            yield Piece(segment.part(begin, end), at, moment)
        elapsed += segment.duration_s
        energy += segment.energy_wh


def current_and_power(segment: Segment) -> tuple[Fraction, Fraction]:
    """Amperes summed over the lines and watts during the segment.

    What is not given: power is the energy over its time, none without charging; current is the
    power at 230 V to neutral, the same sum whether one line carries it or three (power factor 1).
    """
    power = segment.power_w
    if power is None:
        if segment.energy_wh and segment.duration_s:
            power = segment.energy_wh * 3600 / segment.duration_s
        elif segment.current_a is not None and segment.kind is SegmentKind.CHARGING:
            power = segment.current_a * NOMINAL_VOLTAGE_V
        else:
            power = Fraction(0)
    current = segment.current_a
    return (power / NOMINAL_VOLTAGE_V if current is None else current), power


def _crossed(limits: Sequence[Fraction], before: Fraction, size: Fraction) -> Iterator[Fraction]:
    """Where in [0, 1] of a segment that adds `size` to `before` the limits (in order) lie, ends left out."""
    if size:
        for limit in limits[bisect_right(limits, before) : bisect_left(limits, before + size)]:
            yield (limit - before) / size


def _seconds(instant: datetime, start: datetime) -> Fraction:
    passed = instant - start
    return Fraction(passed.days * 86400 + passed.seconds) + Fraction(passed.microseconds, 1_000_000)
