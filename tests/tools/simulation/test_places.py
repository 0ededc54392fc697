"""What cars put on the supply's lines, against handbook figures."""

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime
from random import Random

import pytest

from csms.power.installation import Evse, Wiring
from csms.power.steering.profile import Purpose, offer
from tools.simulation.arrivals import MODELS, Arrival
from tools.simulation.description import Station, Use, Visit
from tools.simulation.places import Place, Stay, bay_for

AT = datetime(2026, 1, 13, tzinfo=UTC)
START = AT.timestamp()
HERON, HATCH, DUO = 2, 3, 5


def place(rotation: tuple[int, int, int] = (0, 1, 2), *, delta: bool = False) -> Place:
    made = Place(Station(id="BAY", circuit="supply", rotation=rotation), delta=delta, random=Random(1))
    made._angle = 0.0  # unity power factor, as the handbook figures are
    return made


def plug(at: Place, number: int, soc: float = 0.2, **more: object) -> Stay:
    model = replace(MODELS[number], reaction_s=(2.0, 2.0), **more)  # type: ignore[arg-type]
    visit = Visit(model=number, arrives_at=AT, departs_at=AT, energy_wh=1.0)
    arrival = Arrival(visit=visit, model=model, soc=soc, priority=0)
    car = arrival.car(Random(2))
    stay = Stay(arrival=arrival, place=at, car=car, transaction="t", began_s=START, need_wh=car.need_wh())
    at.plug_in(stay, START)
    return stay


def give(at: Place, current_a: float, now_s: float) -> None:
    wiring = Wiring(evse=Evse("BAY", 1), circuit="supply")
    at.take(offer(1, wiring, Purpose.LIVE, current_a, now_s, live_valid_s=1e6, transaction="t"))
    at.settle(now_s)


def draws(number: int, current_a: float, rotation: tuple[int, int, int], *, delta: bool) -> list[complex]:
    made = place(rotation, delta=delta)
    plug(made, number)
    give(made, current_a, START)
    made.settle(START + 3)
    return list(made.line_a)


def magnitudes(cars: Iterable[list[complex]]) -> list[float]:
    return [abs(sum(line)) for line in zip(*cars, strict=True)]


def test_in_the_star_the_rotation_turns_a_single_line_car() -> None:
    assert draws(HATCH, 16, (1, 2, 0), delta=False) == [0, 16, 0]
    assert draws(DUO, 16, (2, 0, 1), delta=False) == [16, 0, 16]
    assert draws(HERON, 10, (1, 2, 0), delta=False) == [10, 10, 10]


def test_two_pairs_on_neighbouring_lines_make_root_three_on_the_shared_one() -> None:
    """IT 230 V: 16 A on L1-L2 and on L2-L3 give 16, 27.713, 16 A (phasor sum; pandapower says the same)."""
    found = magnitudes([draws(HATCH, 16, (0, 1, 2), delta=True), draws(HATCH, 16, (1, 2, 0), delta=True)])
    assert found == pytest.approx([16, 16 * math.sqrt(3), 16], abs=1e-9)


def test_a_pair_and_a_balanced_car() -> None:
    """16 A on L1-L2 and 16 A balanced give 30.910, 30.910, 16 A (pandapower's unbalanced load flow)."""
    found = magnitudes([draws(HATCH, 16, (0, 1, 2), delta=True), draws(HERON, 16, (0, 1, 2), delta=True)])
    assert found == pytest.approx([30.910, 30.910, 16.0], abs=5e-4)


@pytest.mark.parametrize(
    ("number", "delta", "watts"),
    # 16 A: 3.68 kW on one line or pair, 7.36 on two, 11.04 on three; 6.37 balanced at 230 V between lines
    [
        (HATCH, False, 3680),
        (DUO, False, 7360),
        (HERON, False, 11_040),
        (HATCH, True, 3680),
        (HERON, True, 6374),
    ],
)
def test_energy_of_an_hour_at_sixteen_amperes(number: int, delta: bool, watts: float) -> None:
    made = place(delta=delta)
    stay = plug(made, number)
    give(made, 16, START)
    made.settle(START + 2)
    before = stay.energy_wh
    made.settle(START + 3602)
    assert stay.energy_wh - before == pytest.approx(watts, rel=1e-3)


def test_a_car_follows_after_its_reaction_and_waits_without_pilot() -> None:
    made = place()
    stay = plug(made, HERON)
    give(made, 16, START)
    assert made.next_s(START) == pytest.approx(START + 2)
    made.settle(START + 2)
    assert made.terminals_a() == (16, 16, 16)
    give(made, 0, START + 100)
    assert made.terminals_a() == (16, 16, 16)
    made.settle(START + 102)
    assert made.terminals_a() == (0, 0, 0)
    made.unplug(START + 400)
    assert stay.waited == [(START + 100, START + 400)]


def test_a_sleeping_car_wakes_by_the_second_pilot_only() -> None:
    made = place()
    stay = plug(made, HERON, sleeps_after_s=900.0)
    give(made, 0, START)
    made.settle(START + 1000)
    assert stay.car.asleep
    give(made, 6, START + 1001)
    made.settle(START + 1010)
    assert made.terminals_a() == (0, 0, 0)
    give(made, 0, START + 1020)
    give(made, 6, START + 1030)
    made.settle(START + 1040)
    assert made.terminals_a() == (6, 6, 6)


def test_a_car_takes_its_own_bay_and_another_only_where_that_is_taken() -> None:
    uses = (Use.VANS, Use.CARS, Use.ALL)
    made = [Place(Station(id=use, circuit="supply", use=use), delta=False, random=Random(1)) for use in uses]
    visit = Visit(model=HERON, arrives_at=AT, departs_at=AT, energy_wh=1.0, use=Use.CARS, bay=1)
    assert bay_for(visit, made) is made[2]  # the second of the two for cars
    plug(made[2], HERON)
    assert bay_for(visit, made) is made[1]
    plug(made[1], HERON)
    assert bay_for(visit, made) is None
    assert bay_for(replace(visit, use=Use.VANS, bay=None), made) is made[0]
