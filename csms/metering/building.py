"""What a meter of the building told, and what may be made of it. Currents in A per line of the supply.

Signs: positive flows into the circuit, negative out of it (a roof that exports). An export makes no
room: power counts a base load below 0 A as 0 A, since a cloud comes faster than cars follow, and
busbars see both flows. A current without a sign counts as if it flowed in, which is the worse case.

A line that was not told stays None and never becomes 0: meters with two elements (Aron) do not
measure one of the lines, and some leave it out. Power then takes the worst case for that line.
"""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from csms.sites.model import LARGEST_CURRENT_A, LINES, LineAmps
from csms.stations.model import NO_LINES, PerLine

SILENT_PERIODS = 3
"""A meter that has missed so many readings is silent (common practice)."""
ROW_EVERY = timedelta(seconds=60)
STEP_A = 5.0
STEP_SHARE = 0.05
STEP_EVERY = timedelta(seconds=5)
LONGEST_DETAIL = 200

_NUMBER = re.compile(r"[-+]?[0-9]{1,9}(\.[0-9]{1,12})?([eE][-+]?[0-9]{1,2})?")


@dataclass(frozen=True, slots=True)
class LineReading:
    """The currents of a circuit at one instant."""

    at: datetime
    current_a: PerLine

    @property
    def told(self) -> dict[str, float]:
        """The lines that were told."""
        return {line: value for line, value in zip(LINES, self.current_a, strict=True) if value is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterStatus:
    """How a circuit's meter does. `error`: what is wrong now, "" when nothing.

    `missing`: lines of the circuit that its last reading did not have.
    """

    circuit_id: str
    kind: str
    period_s: float
    silent_after_s: float
    last: LineReading | None
    age_s: float | None
    fresh: bool
    missing: tuple[str, ...]
    error: str


def current(value: object, factor: float = 1.0) -> float | None:
    """`value` x `factor` in A; None when it is no current: not a number, not finite, beyond all fuses.

    A text that spells a number is one: many meters send it so.
    """
    if isinstance(value, str) and _NUMBER.fullmatch(value.strip()):
        value = float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        amperes = float(value) * factor
    except OverflowError:
        return None
    return amperes if math.isfinite(amperes) and abs(amperes) <= LARGEST_CURRENT_A else None


def per_line(values: Mapping[str, float | None]) -> PerLine:
    """By the names of the lines; one that is left out was not told."""
    l1, l2, l3 = (values.get(line) for line in LINES)
    return (l1, l2, l3)


def of_circuit(current_a: PerLine, limit_a: LineAmps) -> PerLine:
    """Only the lines that the circuit has."""
    l1, l2, l3 = (value if limit > 0 else None for value, limit in zip(current_a, limit_a, strict=True))
    return (l1, l2, l3)


def missing(current_a: PerLine, limit_a: LineAmps) -> tuple[str, ...]:
    """Lines that the circuit has and the reading has not."""
    return tuple(
        line
        for line, value, limit in zip(LINES, current_a, limit_a, strict=True)
        if limit > 0 and value is None
    )


def silent_after_s(period_s: float, at_least_s: float) -> float:
    """The age from which a meter counts as silent."""
    return max(SILENT_PERIODS * period_s, at_least_s)


def short(text: object) -> str:
    """A fault's text for a page: one line, not too long."""
    line = " ".join(str(text).split())
    return line if len(line) <= LONGEST_DETAIL else line[: LONGEST_DETAIL - 1] + "…"


@dataclass(frozen=True, slots=True)
class Gathered:
    """Lines that come one by one, put together to a reading no younger than its oldest part."""

    parts: Mapping[str, tuple[float, datetime]]

    def take(self, told: Mapping[str, float | None], at: datetime) -> "Gathered":
        """After news of some lines; a line that is told as None is not known any more."""
        parts = {line: part for line, part in self.parts.items() if line not in told}
        parts |= {line: (value, at) for line, value in told.items() if value is not None}
        return replace(self, parts=parts)

    def reading(self, now: datetime, longest_s: float) -> LineReading | None:
        """What is known now. A line of which nothing came for `longest_s` is missing."""
        since = now - timedelta(seconds=longest_s)
        young = {line: part for line, part in self.parts.items() if part[1] >= since}
        if not young:
            return None
        values = per_line({line: value for line, (value, _) in young.items()})
        return LineReading(min(at for _, at in young.values()), values)


def worth_a_row(last: LineReading | None, reading: LineReading, limit_a: LineAmps) -> bool:
    """Whether to keep the reading: a row a minute, and one when a line steps, comes or goes.

    A step is 5 A, or a twentieth of the line's limit where that is more; a meter that trembles
    makes a row every 5 s at most.
    """
    if last is None or reading.at - last.at >= ROW_EVERY:
        return True
    return reading.at - last.at >= STEP_EVERY and _stepped(last.current_a, reading.current_a, limit_a)


def _stepped(before: PerLine, after: PerLine, limit_a: LineAmps) -> bool:
    for old, new, limit in zip(before, after, limit_a, strict=True):
        if (old is None) is not (new is None):
            return True
        if old is not None and new is not None and abs(new - old) >= max(STEP_A, STEP_SHARE * limit):
            return True
    return False


def rotated(current_a: PerLine, lines: Iterable[str]) -> PerLine:
    """Currents of a device's own L1, L2, L3, by the supply's lines that those are wired to."""
    values: dict[str, float | None] = dict(zip(lines, current_a, strict=False))
    return per_line(values) if values else NO_LINES


def back_off_s(failures: int, *, first_s: float, most_s: float) -> float:
    """How long to wait after so many failures in a row (from 1): twice as long each time, up to a most."""
    return float(min(most_s, first_s * 2 ** min(failures - 1, 30)))
