"""The proof that an allocation is right, cheap enough to demand after every run.

Under free disposal an allocation is the weighted max-min fair one exactly when it keeps every limit
and each car is at its maximum, or on a full row on which every other car is at its own minimum or
has a level (amperes per weight) no higher. The rows are summed anew here, not taken from the filling.
"""

from collections.abc import Sequence

from csms.errors import OurFault
from csms.power.currents import Path

SLACK = 1e-6
"""Relative; far below 0.01 A, far above what summing a thousand floats loses."""


def used(
    rows: int, reserved: Sequence[complex], paths: Sequence[Path], amperes: Sequence[float]
) -> list[complex]:
    """What each row carries with `reserved` and every car at its amperes."""
    usage: list[complex] = list(reserved) if reserved else [0.0] * rows
    for path, current in zip(paths, amperes, strict=True):
        for row, value in path:
            usage[row] += current * value
    return usage


def check_limits(
    heads: Sequence[float],
    reserved: Sequence[complex],
    paths: Sequence[Path],
    amperes: Sequence[float],
) -> list[complex]:
    """Refuse (OurFault) when a row with a car on it is over its limit; returns what the rows carry."""
    usage = used(len(heads), reserved, paths, amperes)
    for row in {row for path in paths for row, _ in path}:
        if abs(usage[row]) > heads[row] + SLACK * (1.0 + abs(heads[row])):
            raise OurFault(f"allocation breaks row {row}: {abs(usage[row]):.6f} > {heads[row]:.6f}")
    return usage


def check_fairness(
    heads: Sequence[float],
    usage: Sequence[complex],
    paths: Sequence[Path],
    amperes: Sequence[float],
    minimums: Sequence[float],
    maximums: Sequence[float],
    weights: Sequence[float],
) -> None:
    """Refuse (OurFault) an allocation in which somebody could have more at no worse-off car's cost."""
    highest: dict[int, float] = {}
    for i, path in enumerate(paths):
        floating = amperes[i] > minimums[i] + SLACK
        level = amperes[i] / weights[i] if floating else 0.0
        for row, _ in path:
            if row not in highest:
                if abs(usage[row]) < heads[row] - SLACK * (1.0 + abs(heads[row])):
                    continue
                highest[row] = level
            elif level > highest[row]:
                highest[row] = level
    for i, path in enumerate(paths):
        if not minimums[i] - SLACK <= amperes[i] <= maximums[i] + SLACK:
            raise OurFault(f"allocation gives car {i} {amperes[i]:.6f} A, outside its range")
        if amperes[i] >= maximums[i] - SLACK:
            continue
        level = amperes[i] / weights[i]
        allowed = level + SLACK * (1.0 + level)
        if not any(row in highest and highest[row] <= allowed for row, _ in path):
            raise OurFault(f"allocation is not fair to car {i} at {amperes[i]:.6f} A")
