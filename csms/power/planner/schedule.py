"""A solution as a person reads it: each car's stretches of equal current, what they cost, and why.

A reason is a kind with what belongs to it; `csms.power.planner.wording` has the words. Costs are of the
energy alone, by the prices that were known; nobody is billed by them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from csms.power.installation import Evse, Line
from csms.power.planner.forecast import Basis
from csms.power.planner.gather import Asking, Gathered, Left
from csms.power.planner.need import Goal
from csms.power.planner.problem import PlannedCar, Solution
from csms.power.steering.planned import CarPlan, SitePlan

FULL_SHARE = 0.999
SHORT_FROM_WH = 50.0
CENT = Decimal("0.0001")


class Why(StrEnum):
    """Why a car has in a stretch what it has."""

    CHEAP = "cheap"
    NO_CHEAPER = "no_cheaper"
    NEEDS_DEAR = "needs_dear"
    CIRCUIT = "circuit"
    EAGER = "eager"
    WAITS_CHEAPER = "waits_cheaper"
    WAITS_ROOM = "waits_room"
    WAITS_TURN = "waits_turn"
    NO_ROOM = "no_room"
    MET = "met"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """`circuit`, `line`: what is full; `until`: when it charges next."""

    why: Why
    circuit: str | None = None
    line: Line | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From `start` to `end` the car has `current_a` on each of its lines. `cost` None: no prices."""

    start: datetime
    end: datetime
    current_a: float
    power_w: float
    energy_wh: float
    cost: Decimal | None
    reason: Reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """What is missing at the departure; `circuit` None: the car's or its charger's own power is too low."""

    energy_wh: float
    circuit: str | None = None
    line: Line | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CarSchedule:
    """One car. `left`: why it is not planned; `held` False: it is not held back by the plan."""

    evse: Evse
    session_id: int
    goal: Goal
    charged_wh: float
    planned_wh: float
    held: bool
    stretches: tuple[Stretch, ...] = ()
    cost: Decimal | None = None
    shortfall: Shortfall | None = None
    left: Left | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A site's plan to read. `complete` False: time ran out, and shortfalls may be shared unfairly."""

    made_at: datetime
    ends_at: datetime
    currency: str | None
    price_source: str
    prices_until: datetime | None
    basis: dict[str, Basis]
    cars: tuple[CarSchedule, ...]
    complete: bool


def schedule(gathered: Gathered, solution: Solution, now: datetime) -> Schedule:
    """The plan to read, cars in the order of their places."""
    reader = _Reader(gathered, solution)
    prices = gathered.prices
    return Schedule(
        made_at=now,
        ends_at=gathered.slots.edges[-1],
        currency=prices.currency,
        price_source=prices.source,
        prices_until=prices.known_until,
        basis=dict(gathered.forecast.basis),
        cars=tuple(reader.car(each) for each in sorted(gathered.asking, key=lambda each: each.evse)),
        complete=solution.complete,
    )


def site_plan(gathered: Gathered, solution: Solution, now: datetime, valid_s: float) -> SitePlan:
    """The same for the steering."""
    made_s = now.timestamp()
    cars = {}
    for each in gathered.asking:
        car, goal = each.car, each.goal
        if car is None or car.eager or goal.departure is None:
            cars[each.evse] = CarPlan(transaction=each.transaction, free=True)
            continue
        cars[each.evse] = CarPlan(
            transaction=each.transaction,
            edges_s=gathered.slots.edges_s,
            current_a=solution.current_a[car.id],
            charged_wh=each.charged_wh,
            energy_wh=goal.energy_wh,
            watts_per_a=car.watts_per_a,
            full_w=car.watts_per_a * car.max_a,
            departure_s=goal.departure.timestamp(),
            exact=goal.exact,
        )
    return SitePlan(made_s, made_s + valid_s, cars)


class _Reader:
    def __init__(self, gathered: Gathered, solution: Solution) -> None:
        self.gathered, self.solution = gathered, solution
        self.edges, self.hours = gathered.slots.edges, gathered.slots.hours
        self.used: dict[int, list[complex]] = {}
        for car in gathered.problem.cars:
            for row, value in car.path:
                used = self.used.setdefault(row, [0.0] * len(self.hours))
                for slot, amps in enumerate(solution.current_a[car.id]):
                    used[slot] += value * amps

    def car(self, asking: Asking) -> CarSchedule:
        car = asking.car
        if car is None:
            return CarSchedule(
                evse=asking.evse,
                session_id=asking.session_id,
                goal=asking.goal,
                charged_wh=asking.charged_wh,
                planned_wh=0.0,
                held=False,
                left=asking.left,
            )
        amps = self.solution.current_a[car.id]
        stretches = tuple(self._stretch(car, amps, a, b) for a, b in self._cut(car, amps))
        costs = [each.cost for each in stretches if each.cost is not None]
        short_wh = self.solution.short_wh.get(car.id, 0.0)
        return CarSchedule(
            evse=asking.evse,
            session_id=asking.session_id,
            goal=asking.goal,
            charged_wh=asking.charged_wh,
            planned_wh=sum(each.energy_wh for each in stretches),
            held=not car.eager,
            stretches=stretches,
            cost=sum(costs, Decimal(0)) if costs else None,
            shortfall=self._shortfall(car, amps, short_wh) if short_wh > SHORT_FROM_WH else None,
        )

    def _cut(self, car: PlannedCar, amps: Sequence[float]) -> list[tuple[int, int]]:
        """Where the current, or the reason, changes; to the car's last slot, an eager one's last ampere."""
        last = car.last
        if car.eager:
            last = max((slot + 1 for slot, a in enumerate(amps) if a > 0), default=0)
        cuts = [0]
        for slot in range(1, last):
            same = abs(amps[slot] - amps[slot - 1]) < 0.05
            if not same or self._why(car, amps, slot).why is not self._why(car, amps, slot - 1).why:
                cuts.append(slot)
        return list(zip(cuts, [*cuts[1:], last], strict=True)) if last else []

    def _stretch(self, car: PlannedCar, amps: Sequence[float], begin: int, end: int) -> Stretch:
        wh = [amps[slot] * car.watts_per_a * self.hours[slot] for slot in range(begin, end)]
        cost = None
        if self.gathered.prices.currency is not None:
            prices = self.gathered.prices.per_kwh[begin:end]
            exact = sum((Decimal(round(e)) * p / 1000 for e, p in zip(wh, prices, strict=True)), Decimal(0))
            cost = exact.quantize(CENT, ROUND_HALF_UP)
        return Stretch(
            start=self.edges[begin],
            end=self.edges[end],
            current_a=amps[begin],
            power_w=amps[begin] * car.watts_per_a,
            energy_wh=sum(wh),
            cost=cost,
            reason=self._why(car, amps, begin),
        )

    def _why(self, car: PlannedCar, amps: Sequence[float], slot: int) -> Reason:
        prices = self.gathered.prices.per_kwh
        own = prices[: car.last]
        if amps[slot] > 0:
            full = self._full(car, slot) if amps[slot] < car.max_a - 0.5 else None
            if full is not None:
                return Reason(why=Why.CIRCUIT, circuit=full[0], line=full[1])
            if car.eager:
                return Reason(why=Why.EAGER)
            if min(own) == max(own):
                return Reason(why=Why.NO_CHEAPER)
            unused = [own[s] for s in range(len(own)) if amps[s] == 0]
            if unused and prices[slot] > min(unused):
                return Reason(why=Why.NEEDS_DEAR)
            return Reason(why=Why.CHEAP)
        following = next((s for s in range(slot + 1, len(amps)) if amps[s] > 0), None)
        full = self._full(car, slot, car.min_a)
        if following is None:
            if self.solution.short_wh.get(car.id, 0.0) <= SHORT_FROM_WH or full is None:
                return Reason(why=Why.MET)
            return Reason(why=Why.NO_ROOM, circuit=full[0], line=full[1])
        until = self.edges[following]
        if not car.eager and prices[following] < prices[slot]:
            return Reason(why=Why.WAITS_CHEAPER, until=until)
        if full is not None:
            return Reason(why=Why.WAITS_ROOM, circuit=full[0], line=full[1], until=until)
        return Reason(why=Why.WAITS_TURN, until=until)

    def _full(self, car: PlannedCar, slot: int, more_a: float = 0.0) -> tuple[str, Line | None] | None:
        """The nearest circuit and line of the car that has no room for `more_a`, or is full."""
        for row, value in car.path:
            heads = self.gathered.problem.heads.get(row)
            if heads is None:
                continue
            used = abs(self.used[row][slot] + more_a * value)
            if used > heads[slot] + 1e-6 or (not more_a and used >= FULL_SHARE * heads[slot]):
                return self.gathered.network.row_name(row)
        return None

    def _shortfall(self, car: PlannedCar, amps: Sequence[float], short_wh: float) -> Shortfall:
        """Named after what is full in most of the slots in which the car could have more."""
        could = [slot for slot in range(car.last) if amps[slot] < car.max_a - 0.05]
        counts: dict[tuple[str, Line | None], int] = {}
        for slot in could:
            more = car.min_a if amps[slot] == 0 else 0.1
            if (full := self._full(car, slot, more)) is not None:
                counts[full] = counts.get(full, 0) + 1
        if not counts:
            return Shortfall(energy_wh=short_wh)
        circuit, line = max(counts, key=lambda name: counts[name])
        return Shortfall(energy_wh=short_wh, circuit=circuit, line=line)
