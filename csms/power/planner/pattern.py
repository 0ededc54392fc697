"""Which car is to charge in which slot, read off a programme that also likes 2 A.

Whoever has its minimum there stays. The others, who have most first, are taken to charge wherever the
minimum of all that are taken still fits; the next programme, which knows the minimum, then moves the
amperes. To leave out what is small, or to take only halves and more, was tried: it left more needs unmet.
"""

import numpy as np

from csms.power.planner.layout import Booleans, Floats, Layout

WORTH_A = 0.3


def pattern(layout: Layout, amps: Floats) -> Booleans:
    """By car and slot, whether it charges; all minima fit every limit, and no car's pass its need."""
    on = (amps >= layout.low[:, None] - 1e-6) & layout.window
    load = layout.weight @ (on * layout.low[:, None])
    at_least = (on * layout.low[:, None] * layout.kwh).sum(axis=1)
    small = (amps > WORTH_A) & ~on & layout.window
    those = np.argwhere(small)
    for c, s in those[np.argsort(-amps[small], kind="stable")]:
        cuts = np.nonzero(layout.weight[:, c])[0]
        more = layout.weight[cuts, c] * layout.low[c]
        kwh = layout.low[c] * layout.kwh[c, s]
        if at_least[c] + kwh > layout.need[c]:
            continue
        if (load[cuts, s] + more <= layout.head[cuts, s] + 1e-9).all():
            load[cuts, s] += more
            at_least[c] += kwh
            on[c, s] = True
    return on
