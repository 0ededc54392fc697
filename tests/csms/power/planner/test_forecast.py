"""The quantile of the same quarter on the same kind of day, and what stands in until there is enough."""

import random
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from csms.power.installation import LINES, Circuit, Installation, Line, System
from csms.power.planner.forecast import BaseSample, Basis, forecast, quantile_of, strays
from csms.power.planner.slots import QUARTER, slots_from

OSLO = ZoneInfo("Europe/Oslo")
MONDAY = datetime(2026, 11, 2, 0, 0, tzinfo=OSLO).astimezone(UTC)
SITE = Installation(
    system=System.TN_400,
    circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0), base_a=dict.fromkeys(LINES, 30.0)),),
    zone=OSLO,
)


def history(days: int, until: datetime = MONDAY) -> list[BaseSample]:
    """On L1 as many A as the hour says, 40 A on weekends; on the other lines 1 and 2 A."""
    found = []
    for back in range(1, days * 96 + 1):
        at = until - back * QUARTER
        local = at.astimezone(OSLO)
        found.append(
            BaseSample("main", at, (40.0 if local.isoweekday() > 5 else float(local.hour), 1.0, 2.0))
        )
    return found


def test_weekdays_and_weekends_are_apart() -> None:
    weeks = history(21)
    monday = forecast(SITE, weeks, slots_from(MONDAY), quantile=0.85)
    assert monday.basis == {"main": Basis.HISTORY}
    assert [monday.at(slot)["main"][Line.L1] for slot in (0, 4, 95)] == [0.0, 1.0, 23.0]
    assert monday.at(0)["main"][Line.L3] == 2.0
    saturday = forecast(SITE, weeks, slots_from(MONDAY + timedelta(days=5)), quantile=0.85)
    assert {saturday.at(slot)["main"][Line.L1] for slot in range(96)} == {40.0}


def test_it_is_the_quantile_as_numpy_has_it() -> None:
    """numpy's default is type 7 of Hyndman and Fan (1996)."""
    rnd = random.Random(7)
    for count in (1, 2, 5, 17):
        values = [rnd.uniform(0, 60) for _ in range(count)]
        for quantile in (0.0, 0.5, 0.8, 0.85, 1.0):
            assert quantile_of(values, quantile) == pytest.approx(np.quantile(values, quantile))


def test_until_a_week_is_known_the_largest_load_stands_for_every_hour() -> None:
    found = forecast(SITE, history(4), slots_from(MONDAY), quantile=0.85)
    assert found.basis == {"main": Basis.LARGEST}
    assert found.at(0)["main"] == {Line.L1: 40.0, Line.L2: 1.0, Line.L3: 2.0}


def test_until_a_day_is_known_it_is_the_configured_worst_case() -> None:
    found = forecast(SITE, history(4)[:95], slots_from(MONDAY), quantile=0.85)
    assert found.basis == {"main": Basis.CONFIGURED}
    assert found.at(0)["main"] == dict.fromkeys(LINES, 30.0)


def test_on_a_day_with_25_hours_each_quarter_has_that_of_the_sites_clock() -> None:
    midnight = datetime(2026, 10, 25, 0, 0, tzinfo=OSLO).astimezone(UTC)
    found = forecast(SITE, history(28, midnight), slots_from(midnight, 100), quantile=0.5)
    assert len(found.line_a["main"]) == 100
    monday = midnight + timedelta(hours=25)
    after = forecast(SITE, history(28, midnight), slots_from(monday, 4), quantile=0.5)
    assert after.at(0)["main"][Line.L1] == 0.0


def test_how_far_the_building_is_from_it() -> None:
    expected = {"main": {Line.L1: 10.0, Line.L2: 10.0}}
    assert strays(expected, {"main": {Line.L1: 8.0, Line.L2: 17.5}}) == 7.5
    assert strays(expected, {"main": {Line.L1: 8.0}}) == -2.0
    assert strays(expected, {}) == 0.0
