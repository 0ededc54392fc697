"""The physics of a car. Sources: IEC 61851-1 (a car follows a changed pilot within 5 s; nothing between 0
and 6 A)."""

from random import Random

import pytest

from tools.simulator.car import Car, CarModel
from tools.simulator.evse import Evse, EvseModel, Pilot

THREE = CarModel(name="three lines", battery_wh=60_000, lines=3, max_current_a=16)


def plugged(
    model: CarModel, soc: float, *, seed: int = 1, offer_a: float = 32.0, **evse: float
) -> tuple[Evse, Car]:
    place, car = Evse(EvseModel(**evse)), Car(model, soc=soc, random=Random(seed))  # type: ignore[arg-type]
    place.plug_in(car)
    place.offer(offer_a)
    return place, car


@pytest.mark.parametrize("lines", [1, 2, 3])
def test_power_is_amperes_times_lines_times_230_v(lines: int) -> None:
    """230 V x 16 A = 3.68 kW per line (plain arithmetic, as on every data sheet)."""
    place, _ = plugged(CarModel(name="x", battery_wh=60_000, lines=lines, max_current_a=16), 0.2)
    place.step(10)
    assert place.power_w == pytest.approx(3680 * lines)
    assert sum(current > 0 for current in place.currents_a) == lines


def test_a_three_line_car_on_a_single_line_outlet_uses_one() -> None:
    place, _ = plugged(THREE, 0.2, line_count=1)
    place.step(10)
    assert place.currents_a == (16.0, 0.0, 0.0)
    assert place.step(3600) == pytest.approx(3680, rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_follows_a_lower_pilot_within_one_to_five_seconds(seed: int) -> None:
    place, _ = plugged(THREE, 0.2, seed=seed)
    place.step(10)
    assert place.currents_a[0] == 16
    place.offer(8)
    seconds = 0.0
    while place.currents_a[0] > 8:
        place.step(0.1)
        seconds += 0.1
    assert 1.0 <= seconds <= 5.1


@pytest.mark.parametrize("dt_s", [0.1, 1.0, 7.5, 60.0])
def test_the_register_is_the_integral_of_power(dt_s: float) -> None:
    """Up to full: what the meter counts, and what arrives in the battery after the losses, is conserved."""
    place, car = plugged(THREE, 0.5)
    before_wh, integral_wh, passed_s = car.stored_wh, 0.0, 0.0
    while not car.full:
        before_w = place.power_w
        place.step(dt_s)
        integral_wh += (before_w + place.power_w) / 2 * dt_s / 3600
        passed_s += dt_s
        assert passed_s < 8 * 3600
    assert place.register_wh * THREE.efficiency == pytest.approx(car.stored_wh - before_wh, rel=1e-9)
    assert place.register_wh == pytest.approx(30_000 / 0.9, rel=1e-9)
    assert integral_wh == pytest.approx(place.register_wh, abs=11_040 * dt_s / 3600 + 1)


def test_tapers_above_its_state_of_charge_and_stops_when_full() -> None:
    place, car = plugged(THREE, 0.84)
    currents, seen_full = [], False
    for _ in range(4 * 3600 // 30):
        place.step(30)
        currents.append(place.currents_a[0])
        seen_full = seen_full or car.full
    assert currents[0] == 16
    last = next(i for i, current in enumerate(currents) if current == 0)
    assert currents[:last] == sorted(currents[:last], reverse=True)
    assert 0 < currents[last - 1] < 16 * 0.2
    assert seen_full
    assert place.pilot is Pilot.B
    assert not place.contactor_closed


@pytest.mark.parametrize(("limit_a", "offered_a"), [(5.9, 0), (0, 0), (6, 6), (9.58, 9.5), (80, 32), (-3, 0)])
def test_the_pilot_never_says_anything_between_0_and_6(limit_a: float, offered_a: float) -> None:
    place, _ = plugged(THREE, 0.2, offer_a=limit_a)
    assert place.offered_a == offered_a


def test_a_car_that_ignores_the_pilot_is_cut_off_after_six_seconds() -> None:
    deaf = CarModel(
        name="deaf", battery_wh=60_000, max_current_a=16, ignores_pilot=True, reaction_s=(500, 501)
    )
    place, _ = plugged(deaf, 0.2)
    place.step(600)
    assert place.currents_a[0] == 16
    place.offer(8)
    place.step(600)
    assert place.currents_a[0] == 16
    place.offer(0)
    place.step(5)
    assert place.currents_a[0] == 16
    metered = place.step(30)
    assert place.currents_a[0] == 0
    assert metered == pytest.approx(11_040 * 1 / 3600, rel=1e-6)


def test_a_car_that_sleeps_needs_a_pulse() -> None:
    place, car = plugged(CarModel(name="sleeper", battery_wh=60_000, sleeps_after_s=600), 0.2, offer_a=0)
    place.step(601)
    place.offer(16)
    place.step(60)
    assert place.power_w == 0
    car.wake()
    place.step(60)
    assert place.power_w > 0


def test_faults_of_a_model_name_the_field() -> None:
    with pytest.raises(ValueError, match="lines"):
        CarModel(name="x", battery_wh=1, lines=4)
    with pytest.raises(ValueError, match="soc"):
        Car(THREE, soc=1.2, random=Random(1))
