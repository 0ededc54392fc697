"""A station without a line: wiring, shared maximum, a card that waits for its cable. Time is stepped by
hand."""

from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import pytest

from tools.simulator.car import Car, CarModel
from tools.simulator.clock import SteppedClock
from tools.simulator.fleet import make_station
from tools.simulator.link import LinkSettings
from tools.simulator.options import Options
from tools.simulator.profiles import Kind, Period, Profile, Purpose, Unit
from tools.simulator.session import Condition, Reason, Trigger
from tools.simulator.station import Station, StationModel

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def make(**model: Any) -> tuple[Station, SteppedClock]:
    clock = SteppedClock(NOON)
    station = make_station(
        StationModel(identity="X", **model),
        clock=clock,
        settings=LinkSettings(url="ws://127.0.0.1:9/ocpp"),
        random=Random(1),
        options=Options(offline_unknown_tokens=True),
    )
    return station, clock


def live(station: Station, clock: SteppedClock, seconds: int) -> None:
    for _ in range(seconds):
        clock.advance(1)
        station.step(1)


def car(lines: int = 1, max_current_a: float = 32) -> Car:
    model = CarModel(name="x", battery_wh=60_000, lines=lines, max_current_a=max_current_a)
    return Car(model, soc=0.3, random=Random(2))


@pytest.mark.parametrize(("wiring", "line"), [((0, 1, 2), 0), ((1, 2, 0), 1), ((2, 0, 1), 2), ((0, 2, 1), 0)])
async def test_a_single_line_car_loads_the_line_its_terminal_is_wired_to(
    wiring: tuple[int, int, int], line: int
) -> None:
    station, clock = make(wiring=wiring)
    station.plug_in(car())
    await station.present("A1")
    live(station, clock, 10)
    expected = [0.0, 0.0, 0.0]
    expected[line] = 32.0
    assert station.site_currents_a() == tuple(expected)


async def test_the_stations_own_maximum_is_shared_among_who_asks() -> None:
    station, clock = make(evses=2)
    top = Profile(
        id=1,
        purpose=Purpose.STATION_MAX,
        stack_level=0,
        kind=Kind.ABSOLUTE,
        unit=Unit.A,
        periods=(Period(0, 20),),
        starts_at=NOON,
    )
    station.profiles.install(top, by_level=True)
    station.plug_in(car(), 1)
    await station.present("A1", 1)
    live(station, clock, 10)
    assert station.site_currents_a()[0] == 20
    station.plug_in(car(), 2)
    await station.present("A2", 2)
    live(station, clock, 10)
    assert [bay.evse.currents_a[0] for bay in station.bays] == [10, 10]


async def test_a_card_waits_for_its_cable_and_then_no_longer() -> None:
    station, clock = make()
    await station.present("A1")
    assert station.bays[0].condition is Condition.PREPARING
    live(station, clock, 59)
    assert station.bays[0].authorization is not None
    live(station, clock, 1)
    assert station.bays[0].condition.value == "Available"
    station.plug_in(car())
    assert station.bays[0].session is None
    live(station, clock, 10)
    assert station.bays[0].evse.register_wh == 0  # no card, no energy


async def test_meter_values_come_at_their_interval_and_wait_for_the_line() -> None:
    station, clock = make()
    station.plug_in(car())
    await station.present("A1")
    assert len(station.link.outbox) == 1
    live(station, clock, 300)
    assert len(station.link.outbox) == 1 + 5
    station.options.aligned_s = 900
    live(station, clock, 600)
    assert len(station.link.outbox) == 1 + 15 + 1


async def test_out_of_service_waits_for_the_end_and_a_refusal_ends_it() -> None:
    station, _ = make()
    station.plug_in(car())
    await station.present("A1")
    bay = station.bays[0]
    assert station.set_in_service(bay, False) is False
    session = bay.session
    assert session is not None
    station.heard_verdict(bay, session, "Blocked")
    assert session.ended
    assert bay.condition is Condition.UNAVAILABLE
    station.end(bay, Reason.LOCAL, Trigger.STOP_AUTHORIZED)  # ending what has ended does nothing


async def test_a_wrong_clock_is_set_by_the_central_system() -> None:
    station, _ = make()
    station._clock_error, station._sets_clock = timedelta(days=-20_000), True
    assert station.now().year < 1980
    station.hear_time(NOON)
    assert station.now() == NOON


def test_faults_of_a_model_name_the_field() -> None:
    with pytest.raises(ValueError, match="wiring"):
        StationModel(identity="X", wiring=(0, 0, 1))
    with pytest.raises(ValueError, match="evses"):
        StationModel(identity="X", evses=0)
