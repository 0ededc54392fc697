"""The proof that an allocation is right, cheap enough to demand after every run.

Under free disposal an allocation is the weighted max-min fair one exactly when it keeps every limit
and each car is at its maximum, or on a full row on which every other car is at its own minimum or
has a level (amperes per weight) no higher. Where cars are ranked (some take what they can before the
rest gets more than its minimum) a car of a lower rank on that row may have any level, one of a higher
rank only its minimum. The rows are summed anew here, not taken from the filling.
"""

from collections.abc import Sequence

from csms.errors import OurFault
from csms.power.sharing.currents import Path, by_path

SLACK = 1e-6
"""Relative; far below 0.01 A, far above what summing a thousand floats loses."""


def used(
    rows: int, reserved: Sequence[complex], paths: Sequence[Path], amperes: Sequence[float]
) -> list[complex]:
    """What each row carries with `reserved` and every car at its amperes."""
    usage: list[complex] = list(reserved) if reserved else [0.0] * rows
    for path, current in by_path(paths, amperes):
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
    # Cars on one circuit and line share one path object: look at each once.
    for row in {row for path in {id(path): path for path in paths}.values() for row, _ in path}:
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
    ranks: Sequence[int] | None = None,
) -> None:
    """Refuse (OurFault) an allocation in which somebody could have more at no worse-off car's cost.

    `ranks`: who is served before whom, the lower first; None: all alike.
    """
    # Cars on one circuit and line share one path object: of them only the highest that is above its
    # minimum, and the lowest that is below its maximum, can show a fault.
    shared: dict[int, Path] = {}
    above: dict[int, tuple[int, float]] = {}
    below: dict[int, tuple[int, float, int]] = {}
    for i, path in enumerate(paths):
        current = amperes[i]
        if not minimums[i] - SLACK <= current <= maximums[i] + SLACK:
            raise OurFault(f"allocation gives car {i} {current:.6f} A, outside its range")
        key = id(path)
        standing = (ranks[i] if ranks else 0, current / weights[i])
        if key not in shared:
            shared[key], above[key] = path, _AT_MINIMUM
        if current > minimums[i] + SLACK and standing > above[key]:
            above[key] = standing
        if current < maximums[i] - SLACK and (key not in below or standing < below[key][:2]):
            below[key] = (*standing, i)
    full: dict[int, bool] = {}
    highest: dict[int, tuple[int, float]] = {}
    for key, path in shared.items():
        standing = above[key]
        for row, _ in path:
            if row not in full:
                full[row] = abs(usage[row]) >= heads[row] - SLACK * (1.0 + abs(heads[row]))
                highest[row] = standing
            elif standing > highest[row]:
                highest[row] = standing
    for key, (rank, level, i) in below.items():
        allowed = (rank, level + SLACK * (1.0 + level))
        if not any(full[row] and highest[row] <= allowed for row, _ in shared[key]):
            raise OurFault(f"allocation is not fair to car {i} at {amperes[i]:.6f} A")


_AT_MINIMUM = (-1, 0.0)
