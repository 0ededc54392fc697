"""Whose word counts, what "to 80 %" comes to, and when a member leaves."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.power.planner.need import (
    Goal,
    MemberNeed,
    Source,
    Told,
    check_member,
    check_told,
    goal,
)

OSLO = ZoneInfo("Europe/Oslo")
ARRIVAL = datetime(2026, 11, 2, 17, 0, tzinfo=UTC)
"""A Monday evening."""
WEEKDAYS = MemberNeed(days=(1, 2, 3, 4, 5), leaves_at=time(6), energy_wh=20_000, to_percent=80)
BY_SIX = datetime(2026, 11, 3, 5, 0, tzinfo=UTC)


def of(*told: Told, member: MemberNeed | None = None, **facts: Any) -> Goal:
    usual: dict[str, Any] = {
        "arrival": ARRIVAL,
        "zone": OSLO,
        "charged_wh": 0.0,
        "assumed_wh": 20_000.0,
    }
    return goal(told, member, **{**usual, **facts})


def test_a_member_leaves_at_six_by_the_sites_clock() -> None:
    found = of(member=WEEKDAYS)
    assert (found.departure, found.energy_wh) == (BY_SIX, 20_000.0)
    assert (found.departure_from, found.energy_from) == (Source.MEMBER, Source.MEMBER)


def test_after_a_friday_it_leaves_on_monday() -> None:
    friday = ARRIVAL + timedelta(days=4)
    assert WEEKDAYS.departure(friday, OSLO) == datetime(2026, 11, 9, 5, 0, tzinfo=UTC)


def test_who_comes_after_six_leaves_the_next_day() -> None:
    at_seven = datetime(2026, 11, 3, 6, 0, tzinfo=UTC)
    assert WEEKDAYS.departure(at_seven, OSLO) == datetime(2026, 11, 4, 5, 0, tzinfo=UTC)
    assert WEEKDAYS.departure(BY_SIX, OSLO) > BY_SIX


@pytest.mark.parametrize(
    ("arrival", "leaves_at", "expected"),
    [
        # 29 March 2026: 02:00 becomes 03:00, so that half past two is half past three.
        (datetime(2026, 3, 28, 20, 0, tzinfo=UTC), time(2, 30), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
        (datetime(2026, 3, 28, 20, 0, tzinfo=UTC), time(6), datetime(2026, 3, 29, 4, 0, tzinfo=UTC)),
        # 25 October 2026: 03:00 becomes 02:00; the first of both is taken.
        (datetime(2026, 10, 24, 20, 0, tzinfo=UTC), time(2, 30), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        (datetime(2026, 10, 24, 20, 0, tzinfo=UTC), time(6), datetime(2026, 10, 25, 5, 0, tzinfo=UTC)),
    ],
)
def test_in_the_nights_in_which_the_clocks_are_changed(
    arrival: datetime, leaves_at: time, expected: datetime
) -> None:
    need = replace(WEEKDAYS, days=(1, 2, 3, 4, 5, 6, 7), leaves_at=leaves_at)
    assert need.departure(arrival, OSLO) == expected


def test_a_person_counts_before_the_car_and_the_car_before_the_member() -> None:
    person = Told(source=Source.PERSON, energy_wh=8_000)
    car = Told(source=Source.CAR, energy_wh=12_000, departure=BY_SIX - timedelta(hours=1))
    assert of(car, member=WEEKDAYS).energy_wh == 12_000.0
    found = of(person, car, member=WEEKDAYS)
    assert (found.energy_wh, found.energy_from) == (8_000.0, Source.PERSON)
    assert (found.departure, found.departure_from) == (BY_SIX - timedelta(hours=1), Source.CAR)
    without_hour = replace(car, departure=None)
    assert of(person, without_hour, member=WEEKDAYS).departure_from is Source.MEMBER


def test_nobody_told_anything() -> None:
    found = of()
    assert (found.energy_wh, found.departure, found.exact) == (20_000.0, None, False)
    assert found.eager(0.0)
    beyond = of(charged_wh=25_000.0)
    assert beyond.left_wh == 2_000.0, "it charges on, so it wants something"


def test_a_departure_alone_is_planned_until_the_assumed_energy_is_in() -> None:
    told = Told(source=Source.PERSON, departure=BY_SIX)
    assert not of(told).eager(19_999.0)
    assert of(told).eager(20_000.0)
    assert not of(Told(source=Source.PERSON, departure=BY_SIX, energy_wh=1)).eager(20_000.0)


def test_to_eighty_percent_by_battery_and_state_of_charge() -> None:
    """From 30 to 80 % of 54 kWh are 27 kWh in the battery, 30 kWh at the socket."""
    car = Told(source=Source.CAR, soc_percent=30, battery_wh=54_000, at_wh=1_000)
    found = of(car, member=WEEKDAYS, charged_wh=11_000.0)
    assert found.energy_wh == pytest.approx(31_000.0)
    assert found.left_wh == pytest.approx(20_000.0)
    later = of(car, member=WEEKDAYS, charged_wh=11_000.0, soc=(80.0, 11_000.0))
    assert later.left_wh == 0.0, "what the meter says of the battery is newer"
    assert of(replace(car, battery_wh=None), member=WEEKDAYS).energy_wh == 20_000.0


def test_what_a_car_asks_for_counts_from_when_it_asked() -> None:
    car = Told(source=Source.CAR, energy_wh=10_000, from_wh=4_000)
    found = of(car, charged_wh=5_500.0)
    assert (found.energy_wh, found.left_wh) == (14_000.0, 8_500.0)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"days": ()}, "days"),
        ({"days": (1, 1)}, "days"),
        ({"days": (1, 8)}, "days[1]"),
        ({"energy_wh": 0}, "energy_wh"),
        ({"energy_wh": 1_000_001}, "energy_wh"),
        ({"to_percent": 101}, "to_percent"),
        ({"battery_wh": 0}, "battery_wh"),
        ({"energy_wh": None, "to_percent": None}, "energy_wh"),
    ],
)
def test_an_unsound_need_of_a_member_names_its_field(change: dict[str, Any], field: str) -> None:
    assert check_member(WEEKDAYS) == WEEKDAYS
    with pytest.raises(InvalidInput) as caught:
        check_member(replace(WEEKDAYS, **change))
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"energy_wh": None, "departure": None}, "departure"),
        ({"departure": ARRIVAL}, "departure"),
        ({"energy_wh": -1}, "energy_wh"),
        ({"soc_percent": 101}, "soc_percent"),
    ],
)
def test_an_unsound_need_of_a_charge_names_its_field(change: dict[str, Any], field: str) -> None:
    told = Told(source=Source.PERSON, energy_wh=8_000, departure=BY_SIX)
    assert check_told(told, ARRIVAL) == told
    with pytest.raises(InvalidInput) as caught:
        check_told(replace(told, **change), ARRIVAL)
    assert caught.value.field == field
