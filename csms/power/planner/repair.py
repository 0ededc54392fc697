"""From amperes that a programme likes to amperes that a car can be told: 0, or its minimum at least.

What lies between is taken away. That, and whatever else is missing, is put where it costs least: on top of
slots in which the car charges anyway, or as a new slot at the minimum or above it, taken off the dearest
others if that is more than the car needs. Where there is no room for a minimum, cars above theirs make
room and are put back in turn. A run of a slot or two is moved to where the car charges anyway when that
costs less than a start. No step passes a limit; what cannot be put back is short.
"""

import numpy as np

from csms.power.planner.layout import Booleans, Floats, Ints, Layout

EPS_A = 1e-6
EPS_KWH = 1e-6
MOST_MOVES = 400
SHORT_RUN = 2


class Repair:
    """`amps` is changed in place; `load[q, s]` is what it puts on each cut."""

    def __init__(self, layout: Layout, amps: Floats) -> None:
        self.layout = layout
        self.amps = np.where(layout.window, np.clip(amps, 0.0, layout.high[:, None]), 0.0)
        self.load = layout.weight @ self.amps
        self._cuts: list[Ints] = [np.nonzero(layout.weight[:, c])[0] for c in range(len(layout.need))]
        self._moves = 0

    def run(self, short_kwh: Floats) -> None:
        """Mend everything; `short_kwh`: what the programme left out by car, which is not looked for."""
        layout = self.layout
        small = (self.amps > 0) & (self.amps < layout.low[:, None] - EPS_A)
        for c, s in np.argwhere(small):
            self._put(int(c), int(s), 0.0)
        missing = np.maximum(0.0, layout.need - short_kwh - self.energy())
        order = [int(c) for c in np.nonzero(missing > EPS_KWH)[0]]
        order.sort(key=lambda c: (self._options(c), c))
        for c in order:
            self.give(c, float(missing[c]))
        for c in order:
            left = float(layout.need[c] - short_kwh[c] - self.energy_of(c))
            if left > EPS_KWH:
                self._make_room(c, left)
        if layout.problem.start_cost > 0:
            for c, car in enumerate(layout.problem.cars):
                if starts_of(self.amps[c], car.running) > 1:
                    self._calm(c)

    def energy(self) -> Floats:
        """kWh by car."""
        found: Floats = (self.amps * self.layout.kwh).sum(axis=1)
        return found

    def energy_of(self, c: int) -> float:
        return float(self.amps[c] @ self.layout.kwh[c])

    def room(self, c: int) -> Floats:
        """A that the limits would still let the car have more, in each slot."""
        cuts = self._cuts[c]
        if not len(cuts):
            return np.full(self.amps.shape[1], np.inf)
        free = (self.layout.head[cuts] - self.load[cuts]) / self.layout.weight[cuts, c][:, None]
        found: Floats = np.maximum(0.0, free.min(axis=0) - 1e-9)
        return found

    def _put(self, c: int, s: int, amps: float) -> None:
        cuts = self._cuts[c]
        self.load[cuts, s] += self.layout.weight[cuts, c] * (amps - self.amps[c, s])
        self.amps[c, s] = amps

    def _options(self, c: int) -> int:
        return int((self.layout.window[c] & (self.room(c) >= self.layout.low[c])).sum())

    def give(self, c: int, kwh: float) -> float:
        """Put `kwh` into the car's cheapest slots. Returns what found no place."""
        layout = self.layout
        low, high, start_cost = layout.low[c], layout.high[c], layout.problem.start_cost
        refused = np.zeros(self.amps.shape[1], dtype=bool)
        while kwh > EPS_KWH:
            amps, room = self.amps[c], self.room(c)
            on = amps >= low - EPS_A
            most = np.where(on, np.minimum(high - amps, room), np.minimum(high, room))
            usable = layout.window[c] & ~refused & np.where(on, most > EPS_A, most >= low)
            if not usable.any():
                return kwh
            fresh = ~on & ~self._beside(c, on)
            slot_kwh = np.maximum(EPS_KWH, np.minimum(most * layout.kwh[c], kwh))
            price = layout.cost[c] + np.where(fresh, start_cost / slot_kwh, 0.0)
            s = int(np.argmin(np.where(usable, price, np.inf)))
            wanted = min(float(most[s]), kwh / layout.kwh[c, s])
            if on[s]:
                self._put(c, s, float(amps[s]) + wanted)
                kwh -= wanted * layout.kwh[c, s]
                continue
            given = max(wanted, float(low))
            over = given * layout.kwh[c, s] - kwh
            if over > EPS_KWH and not self._shave(c, s, over) and self._fits_elsewhere(c, kwh, on, most):
                refused[s] = True
                continue
            self._put(c, s, given)
            kwh -= given * layout.kwh[c, s]
        return 0.0

    def _beside(self, c: int, on: Booleans) -> Booleans:
        """Slots next to one in which the car charges, or the first one of a car that charges now."""
        beside = np.zeros_like(on)
        beside[1:] |= on[:-1]
        beside[:-1] |= on[1:]
        beside[0] |= self.layout.problem.cars[c].running
        return beside

    def _fits_elsewhere(self, c: int, kwh: float, on: Booleans, most: Floats) -> bool:
        """Whether slots in which it charges anyway can take it."""
        return float((np.where(on & self.layout.window[c], most, 0.0) * self.layout.kwh[c]).sum()) >= kwh

    def _shave(self, c: int, but: int, kwh: float) -> bool:
        """Take `kwh` off the car's dearest other slots, none below its minimum; all of it or nothing."""
        layout = self.layout
        spare = np.maximum(0.0, self.amps[c] - layout.low[c]) * layout.kwh[c]
        spare[but] = 0.0
        if spare.sum() < kwh:
            return False
        for s in np.argsort(-layout.cost[c], kind="stable"):
            taken = min(kwh, float(spare[s]))
            if taken > 0:
                self._put(c, s, float(self.amps[c, s]) - taken / layout.kwh[c, s])
                kwh -= taken
            if kwh <= EPS_KWH:
                break
        return True

    def _make_room(self, c: int, kwh: float) -> None:
        """Cars above their minimum make room for a new slot of this one, and are put back elsewhere."""
        layout = self.layout
        for s in np.argsort(layout.cost[c], kind="stable"):
            if kwh <= EPS_KWH or self._moves >= MOST_MOVES:
                return
            if not layout.window[c, s] or self.amps[c, s] > 0:
                continue
            amps = min(float(layout.high[c]), max(float(layout.low[c]), kwh / layout.kwh[c, s]))
            kept, before = self.amps.copy(), self.load.copy()
            moved = self._push(c, s, amps)
            if moved is not None:
                self._put(c, s, amps)
                if all(self.give(other, lost) <= EPS_KWH for other, lost in moved.items()):
                    kwh -= amps * layout.kwh[c, s]
                    self._moves += 1
                    continue
            self.amps, self.load = kept, before

    def _push(self, c: int, s: int, amps: float) -> dict[int, float] | None:
        """Lower others in slot `s` until `amps` of the car fit; None: they cannot. Gives kWh lost by car."""
        layout, lost = self.layout, dict[int, float]()
        for q in self._cuts[c]:
            over = self.load[q, s] + layout.weight[q, c] * amps - layout.head[q, s] + 1e-9
            spare = np.maximum(0.0, self.amps[:, s] - layout.low) * layout.weight[q]
            spare[c] = 0.0
            if over <= 0:
                continue
            if spare.sum() < over:
                return None
            for other in np.argsort(-spare, kind="stable"):
                if over <= 0:
                    break
                less = min(over, float(spare[other])) / layout.weight[q, other]
                self._put(other, s, float(self.amps[other, s]) - less)
                lost[int(other)] = lost.get(int(other), 0.0) + less * layout.kwh[other, s]
                over -= less * layout.weight[q, other]
        return lost

    def cost_of(self, c: int) -> float:
        """What the car's slots cost, its starts counted."""
        starts = starts_of(self.amps[c], self.layout.problem.cars[c].running)
        energy = float((self.amps[c] * self.layout.kwh[c]) @ self.layout.cost[c])
        return energy + starts * self.layout.problem.start_cost

    def _calm(self, c: int) -> None:
        """Move short runs to where the car charges anyway, where that costs less than the start."""
        for begin, end in _runs(self.amps[c] > 0):
            if end - begin > SHORT_RUN or not (self.amps[c, begin:end] > 0).all():
                continue
            kept, before, cost = self.amps[c].copy(), self.load.copy(), self.cost_of(c)
            kwh = float(self.amps[c, begin:end] @ self.layout.kwh[c, begin:end])
            for s in range(begin, end):
                self._put(c, s, 0.0)
            if self.give(c, kwh) > EPS_KWH or self.cost_of(c) >= cost - EPS_KWH:
                self.amps[c], self.load = kept, before


def starts_of(amps: Floats, running: bool) -> int:
    """How often a car with these currents starts; going on is none."""
    on = amps > 0
    return int((on & ~np.concatenate([[running], on[:-1]])).sum())


def _runs(on: Booleans) -> list[tuple[int, int]]:
    """(begin, end) of each stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
