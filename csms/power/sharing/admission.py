"""Who may charge: a car needs its minimum or nothing.

{0} and [minimum, maximum] is no convex set, so who runs is decided before how much. Greedy in the
order of service: everybody who still fits with all admitted before at their minimum is admitted;
one that does not fit does not block the next.
"""

from collections.abc import Sequence

from csms.power.sharing.currents import TOLERANCE, Path, by_path
from csms.power.sharing.demand import Demand


def service_order(demands: Sequence[Demand]) -> list[int]:
    """Positions of the demands, first served first; the same for any order of the input."""

    keys = [
        (not d.held, -d.priority, not d.keeps_turn, -d.waiting_s, d.energy_served_wh, d.id, i)
        for i, d in enumerate(demands)
    ]
    keys.sort()
    return [key[-1] for key in keys]


def admit(
    heads: Sequence[float],
    usage: list[complex],
    order: Sequence[int],
    paths: Sequence[Path],
    minimums: Sequence[float],
) -> tuple[list[int], dict[int, int]]:
    """Admit along `order`. Returns the admitted, and for each refused the row that lacks most.

    `usage` holds what is taken already, and afterwards also every admitted minimum.
    """
    if len(order) == len(paths) and _all_fit(heads, usage, paths, minimums):
        return list(order), {}
    admitted: list[int] = []
    refused: dict[int, int] = {}
    for i in order:
        amperes = minimums[i]
        path = paths[i]
        for row, value in path:
            if abs(usage[row] + amperes * value) > heads[row] + TOLERANCE * (1.0 + abs(heads[row])):
                break
        else:
            for row, value in path:
                usage[row] += amperes * value
            admitted.append(i)
            continue
        # Lines lack amperes and caps lack watts: compare by the amperes of this car.
        refused[i] = max(
            path, key=lambda step: (abs(usage[step[0]] + amperes * step[1]) - heads[step[0]]) / abs(step[1])
        )[0]
    return admitted, refused


def _all_fit(
    heads: Sequence[float], usage: list[complex], paths: Sequence[Path], minimums: Sequence[float]
) -> bool:
    """Whether nobody has to wait, as mostly; then `usage` has every minimum."""
    if not all(minimums):
        return False  # such a car leaves no trace on a row that is over already
    together = list(usage)
    for path, amperes in by_path(paths, minimums):
        for row, value in path:
            together[row] += amperes * value
    for carried, before, head in zip(together, usage, heads, strict=True):
        if carried != before and abs(carried) > head + TOLERANCE * (1.0 + abs(head)):
            return False
    usage[:] = together
    return True
