"""The plan as it is read: stretches, reasons, costs, what is missing and why."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System
from csms.power.planner.forecast import Basis, Forecast
from csms.power.planner.gather import Asking, Gathered, Left
from csms.power.planner.need import Goal, Source
from csms.power.planner.prices import Prices, PriceSlice, per_slot
from csms.power.planner.problem import PlannedCar, Problem, Solution
from csms.power.planner.schedule import CarSchedule, Why, schedule, site_plan
from csms.power.planner.slots import slots_from
from csms.power.sharing.currents import Network

NOW = datetime(2026, 11, 2, 22, 0, tzinfo=UTC)
DEAR, CHEAP = Decimal("0.40"), Decimal("0.10")
SUPPLY = Network(
    Installation(system=System.TN_400, circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 16.0)),))
)
Car = Callable[..., PlannedCar]
Make = Callable[..., Problem]


def read(
    cars: list[PlannedCar],
    amps: Mapping[str, tuple[float, ...]],
    make: Make,
    *,
    short_wh: dict[str, float] | None = None,
    priced: bool = True,
) -> tuple[Gathered, Solution]:
    """Eight quarters: an hour dear, an hour cheap; 16 A of supply."""
    slots = slots_from(NOW, 8)
    hour = timedelta(hours=1)
    prices = Prices(
        "EUR",
        (PriceSlice(NOW, NOW + hour, DEAR), PriceSlice(NOW + hour, NOW + 2 * hour, CHEAP)),
        "somebody",
    )
    asking = tuple(
        Asking(
            evse=Evse(*_place(car.id)),
            transaction=f"t-{car.id}",
            session_id=7,
            goal=Goal(
                energy_wh=car.need_wh,
                left_wh=car.need_wh,
                departure=None if car.eager else NOW + timedelta(minutes=15 * car.last),
                energy_from=Source.PERSON,
                departure_from=Source.ASSUMED if car.eager else Source.PERSON,
            ),
            charged_wh=100.0,
            car=car,
        )
        for car in cars
    )
    slot_prices = per_slot(slots, prices if priced else None)
    gathered = Gathered(
        problem=make(*cars, supply_a=16.0, prices=tuple(float(p) for p in slot_prices.per_kwh)),
        slots=slots,
        asking=asking,
        prices=slot_prices,
        forecast=Forecast({}, {"main": Basis.LARGEST}),
        network=SUPPLY,
    )
    return gathered, Solution(current_a=amps, short_wh=short_wh or {})


def _place(id: str) -> tuple[str, int]:
    station, _, evse = id.partition("/")
    return station, int(evse)


def only(gathered: Gathered, solution: Solution) -> CarSchedule:
    (car,) = schedule(gathered, solution, NOW).cars
    return car


def told(car: CarSchedule) -> list[tuple[str, float, Why]]:
    return [(f"{s.start:%H:%M}", s.current_a, s.reason.why) for s in car.stretches]


def test_a_van_waits_for_the_cheaper_hours(car: Car, problem: Make) -> None:
    """16 A on three lines for half an hour: 5.52 kWh for 0.10."""
    van = car("VAN-1/1", need_wh=5_520.0)
    found = only(*read([van], {"VAN-1/1": (0.0,) * 4 + (16.0, 16.0, 0.0, 0.0)}, problem))
    assert told(found) == [
        ("22:00", 0.0, Why.WAITS_CHEAPER),
        ("23:00", 16.0, Why.CHEAP),
        ("23:30", 0.0, Why.MET),
    ]
    first, second, _ = found.stretches
    assert first.reason.until == NOW + timedelta(hours=1)
    assert (second.power_w, second.energy_wh) == pytest.approx((11_040.0, 5_520.0))
    assert (second.cost, found.cost) == (Decimal("0.5520"), Decimal("0.5520"))
    assert (found.planned_wh, found.held, found.shortfall) == (5_520.0, True, None)


def test_the_cheap_hours_are_not_enough(car: Car, problem: Make) -> None:
    van = car("VAN-1/1", need_wh=13_800.0)
    found = only(*read([van], {"VAN-1/1": (16.0, 0.0, 0.0, 0.0) + (16.0,) * 4}, problem))
    assert told(found)[0] == ("22:00", 16.0, Why.CHEAP), "no cheaper slot was left"
    amps = {"VAN-1/1": (16.0, 0.0, 0.0, 0.0, 16.0, 16.0, 16.0, 0.0)}
    assert told(only(*read([van], amps, problem)))[0] == ("22:00", 16.0, Why.NEEDS_DEAR)


def test_a_full_line_is_named(car: Car, problem: Make) -> None:
    """Two on 16 A: one has 10, the other 6; then one waits while the other has all."""
    one = car("VAN-1/1", (0,), need_wh=1e5, last=8)
    two = car("VAN-2/1", (0,), need_wh=1e5, last=8)
    amps = {"VAN-1/1": (10.0, 16.0) + (16.0,) * 6, "VAN-2/1": (6.0, 0.0) + (0.0,) * 5 + (0.0,)}
    short = {"VAN-1/1": 90_000.0, "VAN-2/1": 99_000.0}
    found = schedule(*read([one, two], amps, problem, short_wh=short, priced=False), NOW)
    first, second = found.cars
    assert (first.stretches[0].reason.why, first.stretches[0].reason.line) == (Why.CIRCUIT, Line.L1)
    last = second.stretches[-1].reason
    assert (last.why, last.circuit, last.line) == (Why.NO_ROOM, "main", Line.L1)
    assert first.shortfall is not None
    assert second.shortfall is not None
    assert (second.shortfall.circuit, second.shortfall.line) == ("main", Line.L1)
    assert second.cost is None


def test_who_is_short_by_its_own_power_is_told_so(car: Car, problem: Make) -> None:
    van = car("VAN-1/1", (0,), max_a=10.0, need_wh=1e5, last=2)
    found = only(
        *read([van], {"VAN-1/1": (10.0, 10.0) + (0.0,) * 6}, problem, short_wh={"VAN-1/1": 98_850.0})
    )
    assert found.shortfall is not None
    assert (found.shortfall.energy_wh, found.shortfall.circuit) == (98_850.0, None)


def test_waits_for_room_or_for_its_turn(car: Car, problem: Make) -> None:
    one = car("VAN-1/1", (0,), need_wh=3_680.0, last=4)
    two = car("VAN-2/1", (0,), need_wh=3_680.0, last=8)
    amps = {"VAN-1/1": (16.0,) * 4 + (0.0,) * 4, "VAN-2/1": (0.0,) * 4 + (16.0,) * 4}
    second = schedule(*read([one, two], amps, problem, priced=False), NOW).cars[1]
    assert told(second)[0] == ("22:00", 0.0, Why.WAITS_ROOM)
    alone = only(*read([two], {"VAN-2/1": amps["VAN-2/1"]}, problem, priced=False))
    assert told(alone) == [("22:00", 0.0, Why.WAITS_TURN), ("23:00", 16.0, Why.NO_CHEAPER)]


def test_who_told_nothing_is_shown_until_its_last_ampere(car: Car, problem: Make) -> None:
    visitor = car("BAY-9/1", eager=True)
    found = only(*read([visitor], {"BAY-9/1": (16.0, 16.0) + (0.0,) * 6}, problem))
    assert told(found) == [("22:00", 16.0, Why.EAGER)]
    assert not found.held


def test_who_is_not_planned_is_there_with_its_reason(problem: Make) -> None:
    gathered, solution = read([], {}, problem)
    goal = Goal(
        energy_wh=1.0,
        left_wh=1.0,
        departure=None,
        energy_from=Source.ASSUMED,
        departure_from=Source.ASSUMED,
    )
    lost = Asking(
        evse=Evse("BAY-1", 1), transaction="t", session_id=3, goal=goal, charged_wh=0.0, left=Left.UNREACHABLE
    )
    asking: Any = (lost,)
    (car,) = schedule(replace(gathered, asking=asking), solution, NOW).cars
    assert (car.left, car.stretches, car.held) == (Left.UNREACHABLE, (), False)


def test_the_steering_gets_the_same_hours(car: Car, problem: Make) -> None:
    van, visitor = car("VAN-1/1", need_wh=5_520.0), car("BAY-9/1", eager=True)
    amps = {"VAN-1/1": (0.0,) * 4 + (16.0, 16.0, 0.0, 0.0), "BAY-9/1": (16.0,) * 8}
    gathered, solution = read([van, visitor], amps, problem)
    plan = site_plan(gathered, solution, NOW, 2_400.0)
    now_s = NOW.timestamp()
    assert plan.valid_until_s == now_s + 2_400.0
    assert plan.most_a(Evse("VAN-1", 1), "t-VAN-1/1", now_s - 60, 100.0, now_s + 1) == 0.0
    assert plan.cars[Evse("VAN-1", 1)].current(now_s + 3_601) == 16.0
    assert plan.most_a(Evse("BAY-9", 1), "t-BAY-9/1", now_s - 60, 100.0, now_s + 1) is None
