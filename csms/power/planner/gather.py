"""From what is known of a site to the problem that is solved: who takes part, and what is left for them.

Cars that are planned: those with a departure to come. Eager ones, whose departure nobody knows, are in the
problem so that the others are planned around them, and are not held back. A car that is full, that cannot
be commanded or leaves within the slot that runs is not in it; what it may be drawing is taken off.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from hashlib import blake2b

from csms.power.installation import Evse
from csms.power.planner.forecast import Forecast
from csms.power.planner.need import Goal
from csms.power.planner.prices import SlotPrices
from csms.power.planner.problem import PlannedCar, Problem
from csms.power.planner.slots import Slots
from csms.power.sharing.currents import MissingLine, Network, watts_per_ampere
from csms.power.sharing.demand import Load, usual_connection
from csms.power.steering.bay import Bay
from csms.power.steering.state import SiteState

START_KWH = 0.1
"""A start is held to cost as much as so many kWh at the mean price: contactors wear (a judgement)."""


class Left(StrEnum):
    """Why a car is not planned, though it charges."""

    FULL = "full"
    UNREACHABLE = "unreachable"
    LEAVING = "leaving"
    GONE_BY = "gone_by"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """A car that takes part, or why it does not."""

    evse: Evse
    transaction: str
    session_id: int
    goal: Goal
    charged_wh: float
    car: PlannedCar | None = None
    left: Left | None = None

    @property
    def eager(self) -> bool:
        return self.car is not None and self.car.eager


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """A problem, and all that is needed to read its solution."""

    problem: Problem
    slots: Slots
    asking: tuple[Asking, ...]
    prices: SlotPrices
    forecast: Forecast
    network: Network


def gather(
    state: SiteState,
    goals: Mapping[Evse, tuple[int, Goal]],
    slots: Slots,
    prices: SlotPrices,
    forecast: Forecast,
    now: datetime,
    *,
    time_limit_s: float,
) -> Gathered:
    """`goals`: session and goal of the charge at each EVSE."""
    network = _with_all_caps(state)
    now_s = now.timestamp()
    asking: list[Asking] = []
    reserved: list[Load] = []
    system = network.installation.system
    for evse, bay in state.bays.items():
        made = _asking(bay, goals.get(evse), network, slots, now) if bay.charge is not None else None
        if made is not None:
            asking.append(made)
        if (made is None or made.left is Left.UNREACHABLE) and (counted := bay.promise.counted(now_s)) > 0:
            reserved.append(bay.load(system, counted))
    cars = tuple(each.car for each in asking if each.car is not None)
    per_kwh = tuple(float(price) for price in prices.per_kwh)
    mean = sum(abs(price) for price in per_kwh) / len(per_kwh)
    problem = Problem(
        hours=slots.hours,
        heads=_heads(state, network, cars, reserved, slots, forecast),
        prices=per_kwh,
        cars=cars,
        start_cost=START_KWH * mean,
        time_limit_s=time_limit_s,
    )
    return Gathered(
        problem=problem,
        slots=slots,
        asking=tuple(asking),
        prices=prices,
        forecast=forecast,
        network=network,
    )


def _asking(
    bay: Bay, found: tuple[int, Goal] | None, network: Network, slots: Slots, now: datetime
) -> Asking | None:
    charge = bay.charge
    if charge is None or found is None:
        return None
    session_id, goal = found

    def asks(car: PlannedCar | None = None, left: Left | None = None) -> Asking:
        return Asking(
            evse=bay.evse,
            transaction=charge.transaction,
            session_id=session_id,
            goal=goal,
            charged_wh=charge.energy_wh,
            car=car,
            left=left,
        )

    if not bay.obeys:
        return asks(left=Left.UNREACHABLE)
    if not charge.wants:
        return asks(left=Left.FULL)
    last = len(slots)
    if goal.departure is not None:
        if goal.departure <= now:
            return asks(left=Left.GONE_BY)
        last = slots.whole_before(goal.departure)
        if last == 0:
            return asks(left=Left.LEAVING)
    load = bay.load(network.installation.system, 0.0)
    connection = load.connection or usual_connection(network.installation.system, load.lines)
    path = network.path(load.circuit, load.lines, connection)
    if isinstance(path, MissingLine):
        return asks(left=Left.UNREACHABLE)
    limits = (charge.max_a, bay.derating.max_a, bay.usage.want_a)
    maximum = min([bay.wiring.max_current_a, *(limit for limit in limits if limit is not None)])
    car = PlannedCar(
        id=str(bay.evse),
        path=path,
        watts_per_a=watts_per_ampere(connection, load.lines),
        min_a=charge.min_a,
        max_a=max(charge.min_a, maximum),
        need_wh=goal.left_wh,
        last=last,
        eager=goal.eager(charge.energy_wh),
        priority=charge.priority,
        seed=_seed(charge.transaction),
        running=bool(bay.promise.offered(now.timestamp())),
    )
    return asks(car)


def _seed(transaction: str) -> float:
    """From 0 to below 1, always the same for one charge: a new plan moves nobody without a reason."""
    return int.from_bytes(blake2b(transaction.encode(), digest_size=4).digest()) / 2**32


def _with_all_caps(state: SiteState) -> Network:
    """The network in which every circuit that is ever capped has a row for it."""
    network = state.network
    sometimes = [c.id for c in network.installation.circuits if c.cap_windows or c.id in state.signals]
    return network.with_caps(dict.fromkeys(sometimes, 1e12))


def _heads(
    state: SiteState,
    network: Network,
    cars: tuple[PlannedCar, ...],
    reserved: list[Load],
    slots: Slots,
    forecast: Forecast,
) -> dict[int, tuple[float, ...]]:
    """By row that a car loads, what every slot leaves: the lowest cap that holds anywhere in it."""
    rows = sorted({row for car in cars for row, _ in car.path})
    taken = network.usage(reserved)
    caps = network.caps(state.signals)
    by_slot: list[list[float]] = []
    for slot in range(len(slots)):
        at, end = slots.edges[slot], slots.edges[slot + 1]
        base_a = forecast.at(slot)
        heads = network.with_caps(caps.in_force(at)).heads(base_a)
        while (change := caps.next_change(at)) is not None and change < end:
            at = change
            later = network.with_caps(caps.in_force(at)).heads(base_a)
            heads = [min(pair) for pair in zip(heads, later, strict=True)]
        by_slot.append([heads[row] - abs(taken[row]) for row in rows])
    found = {row: tuple(heads[i] for heads in by_slot) for i, row in enumerate(rows)}
    return {row: heads for row, heads in found.items() if any(math.isfinite(head) for head in heads)}
