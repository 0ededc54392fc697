"""Is a charger wired to the supply's lines as it is written down? Found by stepping one car.

The car's offer goes up and down by at least 6 A a few times. The building's meter sees the line that
the car hangs on step with it, and the other lines do not. For each of the station's lines that carries
current, the *gain* of a supply line is what it moved, in A, per A that the car moved; the line that the
station's is wired to has a gain near 1, others near 0.

Wrong maps are the commonest fault of an installation (common practice). The method cannot tell apart
the lines of a car that charges on three lines alike: use a car on one line, or more of them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import fmean, pstdev

from csms.power.installation import LINES, Line

LEAST_STEP_A = 6.0
"""A smaller step is lost among fridges and lamps."""
FEWEST_STEPS = 3
"""So many steps that agree are no accident."""
SETTLE_S = 8.0
"""After a step the car has 5 s (IEC 61851-1), and the meter its period, to show it."""
MOVES, STILL = 0.7, 0.3
"""Gains from which on a line counts as moving with the car, and up to which it does not."""


class Verdict(StrEnum):
    """What came of it."""

    AS_CONFIGURED = "as configured"
    DIFFERS = "differs"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Hold:
    """The car's offer was the same from `from_s` to `to_s` (s). `drawn_a`: what it drew on each of the
    station's own lines then, in A."""

    from_s: float
    to_s: float
    drawn_a: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Sample:
    """What the building's meter showed at `at_s`, the car included: A per line; a missing one is absent."""

    at_s: float
    line_a: Mapping[Line, float]


@dataclass(frozen=True, slots=True)
class Found:
    """Station line `station_line` (1 to 3) moves the supply's `line`; None: it cannot be told.

    `configured`: the line that is written down. `gains`: of every line of the supply, with `spread`, the
    standard deviation of the one that moves most between the steps. `steps`: how many were looked at.
    """

    station_line: int
    line: Line | None
    configured: Line
    gains: Mapping[Line, float]
    spread: float
    steps: int


@dataclass(frozen=True, slots=True)
class RotationCheck:
    """`why`: in words, for people. `confidence` from 0 to 1: how far the moving line stands out."""

    verdict: Verdict
    confidence: float
    found: tuple[Found, ...]
    why: str


def check_rotation(
    holds: Sequence[Hold], samples: Iterable[Sample], rotation: Sequence[Line]
) -> RotationCheck:
    """Compare what moved with `rotation`, the supply's lines that the station's L1, L2, L3 are wired to."""
    rows = sorted(samples, key=lambda sample: sample.at_s)
    means = [(hold, _means(hold, rows)) for hold in sorted(holds, key=lambda hold: hold.from_s)]
    found = [
        each
        for i, configured in enumerate(rotation)
        if (each := _line(i, configured, [m for m in means if i < len(m[0].drawn_a)])) is not None
    ]
    if not found:
        why = (
            f"the car did not step by {LEAST_STEP_A:g} A at least {FEWEST_STEPS} times while the meter "
            "reported: take a car that draws more, or one that is not full"
        )
        return RotationCheck(Verdict.UNCLEAR, 0.0, (), why)
    confidence = min(_confidence(each) for each in found)
    if any(each.line is None for each in found):
        names = ", ".join(f"L{each.station_line}" for each in found if each.line is None)
        why = (
            f"no single line of the supply moved with the station's {names}: the building moved too much "
            "meanwhile, the meter does not count this charger, or the car charges on several lines alike"
        )
        return RotationCheck(Verdict.UNCLEAR, confidence, tuple(found), why)
    wrong = [each for each in found if each.line is not each.configured]
    told = wrong or found
    why = "; ".join(f"the station's L{each.station_line} moves {each.line}" for each in told)
    if wrong:
        why += f", configured is {', '.join(each.configured for each in wrong)}"
        return RotationCheck(Verdict.DIFFERS, confidence, tuple(found), why)
    return RotationCheck(Verdict.AS_CONFIGURED, confidence, tuple(found), why)


def _means(hold: Hold, rows: Sequence[Sample]) -> dict[Line, float]:
    """The mean of each line that was always reported while the car had settled."""
    settled = [row for row in rows if hold.from_s + SETTLE_S <= row.at_s < hold.to_s]
    return {
        line: fmean(row.line_a[line] for row in settled)
        for line in LINES
        if settled and all(line in row.line_a for row in settled)
    }


def _line(index: int, configured: Line, means: Sequence[tuple[Hold, Mapping[Line, float]]]) -> Found | None:
    """What moved with the station's line `index`; None when the car did not step on it often enough."""
    gains: dict[Line, list[float]] = {line: [] for line in LINES}
    steps = 0
    for (before, lines_before), (after, lines_after) in pairwise(means):
        step_a = after.drawn_a[index] - before.drawn_a[index]
        if abs(step_a) < LEAST_STEP_A or not lines_before or not lines_after:
            continue
        steps += 1
        for line in lines_before.keys() & lines_after.keys():
            gains[line].append((lines_after[line] - lines_before[line]) / step_a)
    if steps < FEWEST_STEPS:
        return None
    mean = {line: fmean(values) for line, values in gains.items() if len(values) == steps}
    most = max(mean, key=lambda line: mean[line], default=None)
    spread = pstdev(gains[most]) if most is not None else 0.0
    alone = (
        most is not None
        and len(mean) == len([line for line in gains if gains[line]])
        and mean[most] - spread >= MOVES
        and all(abs(gain) <= STILL for line, gain in mean.items() if line is not most)
    )
    return Found(index + 1, most if alone else None, configured, mean, spread, steps)


def _confidence(found: Found) -> float:
    """The gain of the moving line less its spread and less the next one, between 0 and 1."""
    ordered = sorted(found.gains.values(), reverse=True)
    next_best = max(0.0, ordered[1]) if len(ordered) > 1 else 0.0
    return max(0.0, min(1.0, ordered[0] - found.spread - next_best)) if ordered else 0.0
