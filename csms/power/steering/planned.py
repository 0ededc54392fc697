"""The plan as the steering sees it: what a car may have at most in this quarter of an hour.

A plan only asks for less. It holds nobody back who is not in it, who is behind it, whose departure is
near, or when it is too old to be trusted: then the car is shared for as if there were none.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

from csms.power.installation import Evse

BEHIND_WH = 1000.0
"""A car that is so much behind its plan, or a quarter of an hour at its full power, makes up for it."""
BEFORE_DEPARTURE_S = 900.0
SLOWER = 1.15
"""Near its departure is when the rest would take this much longer than at full power, and a quarter more."""
ARRIVAL_S = 20.0
"""A car that has just come is not started for the seconds that its first plan takes."""
DONE_WH = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CarPlan:
    """One car's part. `current_a[i]` holds from `edges_s[i]` to before `edges_s[i + 1]` (seconds since 1970).

    `charged_wh`: the charge's energy when the plan was made, `energy_wh` what it is to come to by
    `departure_s`. `full_w`: its highest power. `exact` False: the need is an assumption, and the car is not
    held back when it is met. `free`: it is not held back at all.
    """

    transaction: str
    edges_s: tuple[float, ...] = ()
    current_a: tuple[float, ...] = ()
    charged_wh: float = 0.0
    energy_wh: float = 0.0
    watts_per_a: float = 690.0
    full_w: float = 11040.0
    departure_s: float = 0.0
    exact: bool = True
    free: bool = False

    def current(self, now_s: float) -> float | None:
        """A planned for now; None outside of the plan's time."""
        place = bisect_right(self.edges_s, now_s) - 1
        return self.current_a[place] if 0 <= place < len(self.current_a) else None

    def expected_wh(self, now_s: float) -> float:
        """The charge's energy by now, had all gone as planned."""
        energy = self.charged_wh
        for begin, end, amps in zip(self.edges_s, self.edges_s[1:], self.current_a, strict=False):
            energy += amps * self.watts_per_a * max(0.0, min(end, now_s) - begin) / 3600.0
        return energy

    def most_a(self, charged_wh: float, now_s: float) -> float | None:
        """A that the car may have at most; None: the plan says nothing."""
        if self.free or now_s >= self.departure_s:
            return None
        left_wh = self.energy_wh - charged_wh
        if left_wh <= DONE_WH:
            return 0.0 if self.exact else None
        needs_s = left_wh / self.full_w * 3600.0 * SLOWER if self.full_w > 0 else 0.0
        if self.departure_s - now_s <= needs_s + BEFORE_DEPARTURE_S:
            return None
        if self.expected_wh(now_s) - charged_wh > max(BEHIND_WH, self.full_w / 4):
            return None
        return self.current(now_s)


@dataclass(frozen=True, slots=True)
class SitePlan:
    """A site's plan; after `valid_until_s` it says nothing any more."""

    made_s: float
    valid_until_s: float
    cars: Mapping[Evse, CarPlan] = field(default_factory=dict)

    def most_a(
        self, evse: Evse, transaction: str, started_s: float, charged_wh: float, now_s: float
    ) -> float | None:
        """A that the charge may have at most by the plan; None: as without a plan."""
        if now_s >= self.valid_until_s:
            return None
        car = self.cars.get(evse)
        if car is None or car.transaction != transaction:
            return 0.0 if 0.0 <= now_s - started_s < ARRIVAL_S else None
        return car.most_a(charged_wh, now_s)

    def next_change_s(self, now_s: float) -> float | None:
        """When it may next say something else by itself; None: never."""
        if now_s >= self.valid_until_s:
            return None
        later = [self.valid_until_s]
        for car in self.cars.values():
            place = bisect_right(car.edges_s, now_s)
            if place < len(car.edges_s):
                later.append(car.edges_s[place])
        return min(at for at in later if at > now_s)
